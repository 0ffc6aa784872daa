var Z,y,Ct,F,bt,ct,Gt,G={},St=[],Kt=/acit|ex(?:s|g|n|p|$)|rph|grid|ows|mnc|ntw|ine[ch]|zoo|^ord|itera/i;function M(t,e){for(var n in e)t[n]=e[n];return t}function Et(t){var e=t.parentNode;e&&e.removeChild(t)}function Dt(t,e,n){var s,i,r,o={};for(r in e)r=="key"?s=e[r]:r=="ref"?i=e[r]:o[r]=e[r];if(arguments.length>2&&(o.children=arguments.length>3?Z.call(arguments,2):n),typeof t=="function"&&t.defaultProps!=null)for(r in t.defaultProps)o[r]===void 0&&(o[r]=t.defaultProps[r]);return z(t,o,s,i,null)}function z(t,e,n,s,i){var r={type:t,props:e,key:n,ref:s,__k:null,__:null,__b:0,__e:null,__d:void 0,__c:null,__h:null,constructor:void 0,__v:i??++Ct};return y.vnode!=null&&y.vnode(r),r}function X(t){return t.children}function H(t,e){this.props=t,this.context=e}function I(t,e){if(e==null)return t.__?I(t.__,t.__.__k.indexOf(t)+1):null;for(var n;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null)return n.__e;return typeof t.type=="function"?I(t):null}function Pt(t){var e,n;if((t=t.__)!=null&&t.__c!=null){for(t.__e=t.__c.base=null,e=0;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null){t.__e=t.__c.base=n.__e;break}return Pt(t)}}function dt(t){(!t.__d&&(t.__d=!0)&&F.push(t)&&!K.__r++||ct!==y.debounceRendering)&&((ct=y.debounceRendering)||bt)(K)}function K(){for(var t;K.__r=F.length;)t=F.sort(function(e,n){return e.__v.__b-n.__v.__b}),F=[],t.some(function(e){var n,s,i,r,o,c;e.__d&&(o=(r=(n=e).__v).__e,(c=n.__P)&&(s=[],(i=M({},r)).__v=r.__v+1,rt(c,r,i,n.__n,c.ownerSVGElement!==void 0,r.__h!=null?[o]:null,s,o??I(r),r.__h),Lt(s,r),r.__e!=o&&Pt(r)))})}function Tt(t,e,n,s,i,r,o,c,d,_){var a,x,f,h,w,T,C,u=s&&s.__k||St,$=u.length;for(n.__k=[],a=0;a<e.length;a++)if((h=n.__k[a]=(h=e[a])==null||typeof h=="boolean"?null:typeof h=="string"||typeof h=="number"||typeof h=="bigint"?z(null,h,null,null,h):Array.isArray(h)?z(X,{children:h},null,null,null):h.__b>0?z(h.type,h.props,h.key,null,h.__v):h)!=null){if(h.__=n,h.__b=n.__b+1,(f=u[a])===null||f&&h.key==f.key&&h.type===f.type)u[a]=void 0;else for(x=0;x<$;x++){if((f=u[x])&&h.key==f.key&&h.type===f.type){u[x]=void 0;break}f=null}rt(t,h,f=f||G,i,r,o,c,d,_),w=h.__e,(x=h.ref)&&f.ref!=x&&(C||(C=[]),f.ref&&C.push(f.ref,null,h),C.push(x,h.__c||w,h)),w!=null?(T==null&&(T=w),typeof h.type=="function"&&h.__k!=null&&h.__k===f.__k?h.__d=d=At(h,d,t):d=Ut(t,h,f,u,w,d),_||n.type!=="option"?typeof n.type=="function"&&(n.__d=d):t.value=""):d&&f.__e==d&&d.parentNode!=t&&(d=I(f))}for(n.__e=T,a=$;a--;)u[a]!=null&&(typeof n.type=="function"&&u[a].__e!=null&&u[a].__e==n.__d&&(n.__d=I(s,a+1)),Ht(u[a],u[a]));if(C)for(a=0;a<C.length;a++)Mt(C[a],C[++a],C[++a])}function At(t,e,n){var s,i;for(s=0;s<t.__k.length;s++)(i=t.__k[s])&&(i.__=t,e=typeof i.type=="function"?At(i,e,n):Ut(n,i,i,t.__k,i.__e,e));return e}function Ut(t,e,n,s,i,r){var o,c,d;if(e.__d!==void 0)o=e.__d,e.__d=void 0;else if(n==null||i!=r||i.parentNode==null)t:if(r==null||r.parentNode!==t)t.appendChild(i),o=null;else{for(c=r,d=0;(c=c.nextSibling)&&d<s.length;d+=2)if(c==i)break t;t.insertBefore(i,r),o=r}return o!==void 0?o:i.nextSibling}function pt(t,e,n){e[0]==="-"?t.setProperty(e,n):t[e]=n==null?"":typeof n!="number"||Kt.test(e)?n:n+"px"}function j(t,e,n,s,i){var r;t:if(e==="style")if(typeof n=="string")t.style.cssText=n;else{if(typeof s=="string"&&(t.style.cssText=s=""),s)for(e in s)n&&e in n||pt(t.style,e,"");if(n)for(e in n)s&&n[e]===s[e]||pt(t.style,e,n[e])}else if(e[0]==="o"&&e[1]==="n")r=e!==(e=e.replace(/Capture$/,"")),e=e.toLowerCase()in t?e.toLowerCase().slice(2):e.slice(2),t.l||(t.l={}),t.l[e+r]=n,n?s||t.addEventListener(e,r?_t:ft,r):t.removeEventListener(e,r?_t:ft,r);else if(e!=="dangerouslySetInnerHTML"){if(i)e=e.replace(/xlink[H:h]/,"h").replace(/sName$/,"s");else if(e!=="href"&&e!=="list"&&e!=="form"&&e!=="tabIndex"&&e!=="download"&&e in t)try{t[e]=n??"";break t}catch{}typeof n=="function"||(n!=null&&(n!==!1||e[0]==="a"&&e[1]==="r")?t.setAttribute(e,n):t.removeAttribute(e))}}function ft(t){this.l[t.type+!1](y.event?y.event(t):t)}function _t(t){this.l[t.type+!0](y.event?y.event(t):t)}function rt(t,e,n,s,i,r,o,c,d){var _,a,x,f,h,w,T,C,u,$,v,m=e.type;if(e.constructor!==void 0)return null;n.__h!=null&&(d=n.__h,c=e.__e=n.__e,e.__h=null,r=[c]),(_=y.__b)&&_(e);try{t:if(typeof m=="function"){if(C=e.props,u=(_=m.contextType)&&s[_.__c],$=_?u?u.props.value:_.__:s,n.__c?T=(a=e.__c=n.__c).__=a.__E:("prototype"in m&&m.prototype.render?e.__c=a=new m(C,$):(e.__c=a=new H(C,$),a.constructor=m,a.render=Zt),u&&u.sub(a),a.props=C,a.state||(a.state={}),a.context=$,a.__n=s,x=a.__d=!0,a.__h=[]),a.__s==null&&(a.__s=a.state),m.getDerivedStateFromProps!=null&&(a.__s==a.state&&(a.__s=M({},a.__s)),M(a.__s,m.getDerivedStateFromProps(C,a.__s))),f=a.props,h=a.state,x)m.getDerivedStateFromProps==null&&a.componentWillMount!=null&&a.componentWillMount(),a.componentDidMount!=null&&a.__h.push(a.componentDidMount);else{if(m.getDerivedStateFromProps==null&&C!==f&&a.componentWillReceiveProps!=null&&a.componentWillReceiveProps(C,$),!a.__e&&a.shouldComponentUpdate!=null&&a.shouldComponentUpdate(C,a.__s,$)===!1||e.__v===n.__v){a.props=C,a.state=a.__s,e.__v!==n.__v&&(a.__d=!1),a.__v=e,e.__e=n.__e,e.__k=n.__k,e.__k.forEach(function(b){b&&(b.__=e)}),a.__h.length&&o.push(a);break t}a.componentWillUpdate!=null&&a.componentWillUpdate(C,a.__s,$),a.componentDidUpdate!=null&&a.__h.push(function(){a.componentDidUpdate(f,h,w)})}a.context=$,a.props=C,a.state=a.__s,(_=y.__r)&&_(e),a.__d=!1,a.__v=e,a.__P=t,_=a.render(a.props,a.state,a.context),a.state=a.__s,a.getChildContext!=null&&(s=M(M({},s),a.getChildContext())),x||a.getSnapshotBeforeUpdate==null||(w=a.getSnapshotBeforeUpdate(f,h)),v=_!=null&&_.type===X&&_.key==null?_.props.children:_,Tt(t,Array.isArray(v)?v:[v],e,n,s,i,r,o,c,d),a.base=e.__e,e.__h=null,a.__h.length&&o.push(a),T&&(a.__E=a.__=null),a.__e=!1}else r==null&&e.__v===n.__v?(e.__k=n.__k,e.__e=n.__e):e.__e=Yt(n.__e,e,n,s,i,r,o,d);(_=y.diffed)&&_(e)}catch(b){e.__v=null,(d||r!=null)&&(e.__e=c,e.__h=!!d,r[r.indexOf(c)]=null),y.__e(b,e,n)}}function Lt(t,e){y.__c&&y.__c(e,t),t.some(function(n){try{t=n.__h,n.__h=[],t.some(function(s){s.call(n)})}catch(s){y.__e(s,n.__v)}})}function Yt(t,e,n,s,i,r,o,c){var d,_,a,x=n.props,f=e.props,h=e.type,w=0;if(h==="svg"&&(i=!0),r!=null){for(;w<r.length;w++)if((d=r[w])&&(d===t||(h?d.localName==h:d.nodeType==3))){t=d,r[w]=null;break}}if(t==null){if(h===null)return document.createTextNode(f);t=i?document.createElementNS("http://www.w3.org/2000/svg",h):document.createElement(h,f.is&&f),r=null,c=!1}if(h===null)x===f||c&&t.data===f||(t.data=f);else{if(r=r&&Z.call(t.childNodes),_=(x=n.props||G).dangerouslySetInnerHTML,a=f.dangerouslySetInnerHTML,!c){if(r!=null)for(x={},w=0;w<t.attributes.length;w++)x[t.attributes[w].name]=t.attributes[w].value;(a||_)&&(a&&(_&&a.__html==_.__html||a.__html===t.innerHTML)||(t.innerHTML=a&&a.__html||""))}if((function(T,C,u,$,v){var m;for(m in u)m==="children"||m==="key"||m in C||j(T,m,null,u[m],$);for(m in C)v&&typeof C[m]!="function"||m==="children"||m==="key"||m==="value"||m==="checked"||u[m]===C[m]||j(T,m,C[m],u[m],$)})(t,f,x,i,c),a)e.__k=[];else if(w=e.props.children,Tt(t,Array.isArray(w)?w:[w],e,n,s,i&&h!=="foreignObject",r,o,r?r[0]:n.__k&&I(n,0),c),r!=null)for(w=r.length;w--;)r[w]!=null&&Et(r[w]);c||("value"in f&&(w=f.value)!==void 0&&(w!==t.value||h==="progress"&&!w)&&j(t,"value",w,x.value,!1),"checked"in f&&(w=f.checked)!==void 0&&w!==t.checked&&j(t,"checked",w,x.checked,!1))}return t}function Mt(t,e,n){try{typeof t=="function"?t(e):t.current=e}catch(s){y.__e(s,n)}}function Ht(t,e,n){var s,i;if(y.unmount&&y.unmount(t),(s=t.ref)&&(s.current&&s.current!==t.__e||Mt(s,null,e)),(s=t.__c)!=null){if(s.componentWillUnmount)try{s.componentWillUnmount()}catch(r){y.__e(r,e)}s.base=s.__P=null}if(s=t.__k)for(i=0;i<s.length;i++)s[i]&&Ht(s[i],e,typeof t.type!="function");n||t.__e==null||Et(t.__e),t.__e=t.__d=void 0}function Zt(t,e,n){return this.constructor(t,n)}function it(t,e,n){var s,i,r;y.__&&y.__(t,e),i=(s=typeof n=="function")?null:n&&n.__k||e.__k,r=[],rt(e,t=(!s&&n||e).__k=Dt(X,null,[t]),i||G,G,e.ownerSVGElement!==void 0,!s&&n?[n]:i?null:e.firstChild?Z.call(e.childNodes):null,r,!s&&n?n:i?i.__e:e.firstChild,s),Lt(r,t)}Z=St.slice,y={__e:function(t,e){for(var n,s,i;e=e.__;)if((n=e.__c)&&!n.__)try{if((s=n.constructor)&&s.getDerivedStateFromError!=null&&(n.setState(s.getDerivedStateFromError(t)),i=n.__d),n.componentDidCatch!=null&&(n.componentDidCatch(t),i=n.__d),i)return n.__E=n}catch(r){t=r}throw t}},Ct=0,H.prototype.setState=function(t,e){var n;n=this.__s!=null&&this.__s!==this.state?this.__s:this.__s=M({},this.state),typeof t=="function"&&(t=t(M({},n),this.props)),t&&M(n,t),t!=null&&this.__v&&(e&&this.__h.push(e),dt(this))},H.prototype.forceUpdate=function(t){this.__v&&(this.__e=!0,t&&this.__h.push(t),dt(this))},H.prototype.render=X,F=[],bt=typeof Promise=="function"?Promise.prototype.then.bind(Promise.resolve()):setTimeout,K.__r=0,Gt=0;var O,A,ht,Y=0,nt=[],$t=y.__b,mt=y.__r,yt=y.diffed,vt=y.__c,gt=y.unmount;function J(t,e){y.__h&&y.__h(A,t,Y||e),Y=0;var n=A.__H||(A.__H={__:[],__h:[]});return t>=n.__.length&&n.__.push({}),n.__[t]}function k(t){return Y=1,Xt(kt,t)}function Xt(t,e,n){var s=J(O++,2);return s.t=t,s.__c||(s.__=[n?n(e):kt(void 0,e),function(i){var r=s.t(s.__[0],i);s.__[0]!==r&&(s.__=[r,s.__[1]],s.__c.setState({}))}],s.__c=A),s.__}function Rt(t,e){var n=J(O++,3);!y.__s&&at(n.__H,e)&&(n.__=t,n.__H=e,A.__H.__h.push(n))}function Nt(t,e){var n=J(O++,4);!y.__s&&at(n.__H,e)&&(n.__=t,n.__H=e,A.__h.push(n))}function R(t){return Y=5,Jt(function(){return{current:t}},[])}function Jt(t,e){var n=J(O++,7);return at(n.__H,e)&&(n.__=t(),n.__H=e,n.__h=t),n.__}function Qt(){nt.forEach(function(t){if(t.__P)try{t.__H.__h.forEach(V),t.__H.__h.forEach(st),t.__H.__h=[]}catch(e){t.__H.__h=[],y.__e(e,t.__v)}}),nt=[]}y.__b=function(t){A=null,$t&&$t(t)},y.__r=function(t){mt&&mt(t),O=0;var e=(A=t.__c).__H;e&&(e.__h.forEach(V),e.__h.forEach(st),e.__h=[])},y.diffed=function(t){yt&&yt(t);var e=t.__c;e&&e.__H&&e.__H.__h.length&&(nt.push(e)!==1&&ht===y.requestAnimationFrame||((ht=y.requestAnimationFrame)||function(n){var s,i=function(){clearTimeout(r),xt&&cancelAnimationFrame(s),setTimeout(n)},r=setTimeout(i,100);xt&&(s=requestAnimationFrame(i))})(Qt)),A=void 0},y.__c=function(t,e){e.some(function(n){try{n.__h.forEach(V),n.__h=n.__h.filter(function(s){return!s.__||st(s)})}catch(s){e.some(function(i){i.__h&&(i.__h=[])}),e=[],y.__e(s,n.__v)}}),vt&&vt(t,e)},y.unmount=function(t){gt&&gt(t);var e=t.__c;if(e&&e.__H)try{e.__H.__.forEach(V)}catch(n){y.__e(n,e.__v)}};var xt=typeof requestAnimationFrame=="function";function V(t){var e=A;typeof t.__c=="function"&&t.__c(),A=e}function st(t){var e=A;t.__c=t.__(),A=e}function at(t,e){return!t||t.length!==e.length||e.some(function(n,s){return n!==t[s]})}function kt(t,e){return typeof e=="function"?e(t):e}var qt=function(t,e,n,s){var i;e[0]=0;for(var r=1;r<e.length;r++){var o=e[r++],c=e[r]?(e[0]|=o?1:2,n[e[r++]]):e[++r];o===3?s[0]=c:o===4?s[1]=Object.assign(s[1]||{},c):o===5?(s[1]=s[1]||{})[e[++r]]=c:o===6?s[1][e[++r]]+=c+"":o?(i=t.apply(c,qt(t,c,n,["",null])),s.push(i),c[0]?e[0]|=2:(e[r-2]=0,e[r]=i)):s.push(c)}return s},wt=new Map,l=function(t){var e=wt.get(this);return e||(e=new Map,wt.set(this,e)),(e=qt(this,e.get(t)||(e.set(t,e=(function(n){for(var s,i,r=1,o="",c="",d=[0],_=function(f){r===1&&(f||(o=o.replace(/^\s*\n\s*|\s*\n\s*$/g,"")))?d.push(0,f,o):r===3&&(f||o)?(d.push(3,f,o),r=2):r===2&&o==="..."&&f?d.push(4,f,0):r===2&&o&&!f?d.push(5,0,!0,o):r>=5&&((o||!f&&r===5)&&(d.push(r,0,o,i),r=6),f&&(d.push(r,f,0,i),r=6)),o=""},a=0;a<n.length;a++){a&&(r===1&&_(),_(a));for(var x=0;x<n[a].length;x++)s=n[a][x],r===1?s==="<"?(_(),d=[d],r=3):o+=s:r===4?o==="--"&&s===">"?(r=1,o=""):o=s+o[0]:c?s===c?c="":o+=s:s==='"'||s==="'"?c=s:s===">"?(_(),r=1):r&&(s==="="?(r=5,i=o,o=""):s==="/"&&(r<5||n[a][x+1]===">")?(_(),r===3&&(d=d[0]),r=d,(d=d[0]).push(2,0,r),r=0):s===" "||s==="	"||s===`
`||s==="\r"?(_(),r=2):o+=s),r===3&&o==="!--"&&(r=4,d=d[0])}return _(),d})(t)),e),arguments,[])).length>1?e:e[0]}.bind(Dt);var te=0;function L(t){let e=R("");return e.current||(e.current=`stoichkit-${t}-${++te}`),e.current}var N=.5522847498307936,It=t=>/^[a-z]+$/.test(t)?`var(--pic-${t})`:t;function Bt(t){let e=[];for(let n=0;n<t.length;n+=2)e.push(`${t[n]},${t[n+1]}`);return e.join(" ")}function ee([t,e,n,s,i,r]){let c=[[1,0],[1,N],[N,1],[0,1],[-N,1],[-1,N],[-1,0],[-1,-N],[-N,-1],[0,-1],[N,-1],[1,-N],[1,0]].map(([d,_])=>`${(t+d*n+_*i).toFixed(2)} ${(e+d*s+_*r).toFixed(2)}`);return`M${c[0]} C${c.slice(1,4).join(" ")} C${c.slice(4,7).join(" ")} C${c.slice(7,10).join(" ")} C${c.slice(10,13).join(" ")}Z`}function ne({item:t}){let e=It(t.ink);switch(t.is){case"line":return l`<polyline points=${Bt(t.at)} style=${`fill:none;stroke:${e}`} stroke-width=${t.width} stroke-dasharray=${t.dashes?t.dashes.join(" "):void 0} />`;case"area":return l`<polygon points=${Bt(t.at)} style=${`fill:${e};fill-opacity:${t.opacity};${t.edge?`stroke:${It(t.edge)};stroke-width:0.9`:""}`} />`;case"ellipse":return l`<path d=${ee(t.at)} style=${`fill:${t.opacity?e:"none"};fill-opacity:${t.opacity};stroke:${e}`} stroke-width=${t.width} />`;case"circle":return l`<circle cx=${t.at[0]} cy=${t.at[1]} r=${t.size} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`;case"diamond":{let[n,s]=t.at,i=t.size;return l`<path d=${`M${n} ${s-i}L${n+i} ${s}L${n} ${s+i}L${n-i} ${s}Z`} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`}case"words":{let[n,s]=t.at;return l`<text x=${n} y=${s} font-size=${t.size} text-anchor=${t.anchor==="start"?void 0:t.anchor} font-weight=${t.bold?"bold":void 0} style=${`fill:${e}`} transform=${t.angle?`rotate(${t.angle} ${n} ${s})`:void 0}>${t.text}</text>`}default:return null}}function Ft({block:t,link:e}){let n=R(null),s=R(null),[i,r]=k(""),[o,c]=k(null),[d,_,a,x]=o&&o.limits||t.limits,{width:f,height:h}=t,w=([p,g],[E,S,D,U]=t.limits)=>[(p-E)/(S-E)*f,h-(g-D)/(U-D)*h],T=p=>`move ${t.id} ${p.name}`;Rt(()=>{if(!t.sizes||!n.current||typeof ResizeObserver>"u")return;let p=0,g=0,E=()=>{let D=Math.floor(n.current?n.current.clientWidth:0);D<100||D>=g&&D-g<9||(g=D,e.act("pick",{id:`${t.id}:width`,to:D},{key:`width ${t.id}`}))},S=new ResizeObserver(()=>{clearTimeout(p),p=setTimeout(E,120)});return S.observe(n.current),()=>S.disconnect()},[t.id,t.sizes]);let C=p=>{let g=s.current.getBoundingClientRect(),E=d+(p.clientX-g.left)/g.width*(_-d),S=x-(p.clientY-g.top)/g.height*(x-a);return[E,S]},u=(p,g,E)=>e.act("move",{id:`${t.id}:move`,spot:p.name,x:g,y:E},{key:T(p),text:[g,E]}),$=(p,g)=>{g.preventDefault(),e.act("move",{id:`${t.id}:move`,spot:p.name,x:p.x,y:p.y})},v=p=>{let g=t.spots.find(D=>D.drag);if(!t.picks||!g||p.target.closest(".spot"))return;let[E,S]=C(p);E<d||E>_||S<a||S>x||(u(g,E,S),e.act("left",{id:t.id}))},m=p=>g=>{!p.drag&&t.picks&&(g.currentTarget.focus(),$(p,g)),!(!p.drag||!t.moves)&&(g.preventDefault(),g.currentTarget.focus(),g.currentTarget.setPointerCapture(g.pointerId),c({name:p.name,at:[p.x,p.y],limits:t.limits}))},b=p=>g=>{if(!o||!o.limits||o.name!==p.name)return;let[E,S]=C(g);c({...o,at:[E,S]}),u(p,E,S)},P=()=>{o&&e.act("left",{id:t.id}),c(null)},B=p=>g=>{if(!p.drag&&t.picks&&(g.key==="Enter"||g.key===" ")&&$(p,g),!p.drag||!t.moves)return;let E=g.shiftKey?20:100,S=(_-d)/E,D=(x-a)/E,U={ArrowLeft:[-S,0],ArrowRight:[S,0],ArrowUp:[0,D],ArrowDown:[0,-D]}[g.key];if(!U)return;g.preventDefault();let[W,tt]=o&&o.name===p.name?o.at:[p.x,p.y],et=[W+U[0],tt+U[1]];c({name:p.name,at:et,limits:null}),u(p,et[0],et[1])};return l`<figure class=${t.stale?"picture stale":"picture"} ref=${n}>
    <svg ref=${s} class=${t.picks?"picks":""} onClick=${v} viewBox=${`0 0 ${f} ${h}`} style=${`width:${Math.round(f*1.5)}px`} role="group" aria-label=${t.title}>
      <g aria-hidden="true">${t.items.map((p,g)=>l`<${ne} key=${g} item=${p} />`)}</g>
      ${t.spots.map((p,g)=>{let E=o&&o.name===p.name,S=e.text(T(p),[p.x,p.y]),[D,U]=E?w(o.at,o.limits||t.limits):w(S),W=t.moves&&(p.drag||t.picks),tt=W?`${p.words}. ${p.drag?"Arrow keys move it":"Enter takes it"}`:p.words;return l`<g key=${g} class=${E?"spot moving":"spot"} tabindex="0" role=${W?"button":"img"} aria-label=${tt}
          onPointerDown=${m(p)} onPointerMove=${b(p)} onPointerUp=${P} onPointerCancel=${P}
          onKeyDown=${B(p)} onMouseEnter=${()=>r(p.words)} onMouseLeave=${()=>r("")}
          onFocus=${()=>r(p.words)} onBlur=${()=>{r(""),c(null),e.act("left",{id:t.id})}}>
          <circle cx=${D} cy=${U} r="9" class="target" />
          ${E?l`<circle cx=${D} cy=${U} r="4" class="moved" />`:null}
        </g>`})}
    </svg>
    <figcaption>
      <span class="pointed">${i||t.hint}</span>
      ${t.saves?l`<span class="saves"
            ><button type="button" class="button quiet" onClick=${()=>e.act("set",{id:`${t.id}:save`,to:"svg"})}>Save SVG</button
            ><button type="button" class="button quiet" onClick=${()=>e.act("set",{id:`${t.id}:save`,to:"png"})}>Save PNG</button></span
          >`:null}
      <details class="described"><summary>The picture in words</summary><p>${t.alt}</p></details>
    </figcaption>
  </figure>`}function se(t){return t.replace(/\r\n?/g,`
`).replace(/\n+$/,"").split(`
`).map(n=>n.split("	"))}function Ot({block:t,link:e}){let n=R(null),s=R(null),i=L("sheet"),r=`grow ${t.id}`,o=Number(e.text(r,0))-t.rows.length,c=[...t.rows,...Array.from({length:Math.max(o,0)},()=>({name:"",cells:t.columns.map(()=>({text:"",refusal:"",mark:"",note:"",lines:0})),result:"",refusal:""}))],d=(u,$)=>n.current&&n.current.querySelector(`[data-at="${u}:${$}"]`),_=(u,$)=>{let v=d(u,$);return v?(v.focus(),v.select&&v.select(),!0):!1};Nt(()=>{s.current&&_(...s.current)&&(s.current=null)});let a=(u,$)=>v=>{let m=v.target.value,b=`cell ${t.id} ${u} ${$}`;e.act("cells",{id:t.id,row:u,column:$,to:[[m]]},{key:b,text:m})},x=(u,$)=>v=>{let m=v.clipboardData&&v.clipboardData.getData("text/plain"),b=m?se(m):[];b.length<2&&(!b[0]||b[0].length<2)||(v.preventDefault(),e.act("cells",{id:t.id,row:u,column:$,to:b}))},f=(u,$,v)=>m=>{let{key:b,target:P}=m,B=P.selectionStart===0&&P.selectionEnd===0,p=P.value.length,g=P.selectionStart===p&&P.selectionEnd===p,E=P.selectionStart===0&&P.selectionEnd===p,S=null;if(b==="Enter"&&!(v&&m.altKey)?S=[u+(m.shiftKey?-1:1),$]:b==="ArrowDown"?S=[u+1,$]:b==="ArrowUp"?S=[u-1,$]:b==="ArrowLeft"&&(B||E)?S=[u,$-1]:b==="ArrowRight"&&(g||E)&&(S=[u,$+1]),!S||(m.preventDefault(),_(S[0],S[1])))return;let D=c.length;if(b!=="Enter"||S[0]<D||!t.grows)return;s.current=[D,0];let U={id:t.id,row:D,column:0,to:[[""]]};e.act("cells",U,{key:r,text:D+1})},h=()=>e.act("left",{id:t.id}),w=(u,$,v,m)=>{let b=`${m}, ${t.columns[$].label}`,P=e.text(`cell ${t.id} ${u} ${$}`,v.text),B=v.refusal||v.note;return l`<td key=${$} class=${v.refusal?"refused":v.mark.replace(" ","-")}>
      <input
        type="text"
        data-at=${`${u}:${$}`}
        data-control=${`${t.id} ${u} ${$}`}
        value=${P}
        style=${`min-width:${Math.min(String(P).length,30)+3}ch`}
        aria-label=${v.mark?`${b}, ${v.mark}`:b}
        aria-invalid=${v.refusal?"true":void 0}
        aria-describedby=${v.refusal?`${i}-${u}`:void 0}
        title=${B||void 0}
        inputmode="decimal"
        autocomplete="off"
        spellcheck=${!1}
        onInput=${a(u,$)}
        onPaste=${x(u,$)}
        onKeyDown=${f(u,$,v.lines)}
        onBlur=${h}
      />
      ${v.mark==="what if"?l`<span class="was">${v.note}</span>`:null}
    </td>`},T=(u,$)=>{let m=u.cells.map((b,P)=>[t.columns[P].label,b.refusal]).filter(([,b])=>b);return m.length?l`<tr key=${`why ${$}`} class="why">
      <td colspan=${t.columns.length+(t.result?2:1)} id=${`${i}-${$}`}>
        ${m.map(([b,P])=>l`<p key=${b}>${b}: ${P}</p>`)}
      </td>
    </tr>`:null},C=u=>$=>{let v=$.target.value,m=`name ${t.id} ${u}`;e.act("cells",{id:t.names,row:u,column:0,to:[[v]]},{key:m,text:v})};return l`<div class="scroll sheet" role="group" aria-label=${t.label} ref=${n}>
    <table>
      <thead>
        <tr>
          <th scope="col">${t.names?"trial":""}</th>
          ${t.columns.map((u,$)=>l`<th key=${$} scope="col">${u.label}${u.unit?`, ${u.unit}`:""}</th>`)}
          ${t.result?l`<th scope="col" class="result">${t.result}</th>`:null}
        </tr>
      </thead>
      <tbody>
        ${c.map((u,$)=>[l`<tr key=${$}>
            <th scope="row">
              ${t.names?l`<input
                    type="text"
                    aria-label=${`Name of trial ${$+1}`}
                    value=${e.text(`name ${t.id} ${$}`,u.name)}
                    onInput=${C($)}
                    onBlur=${h}
                    autocomplete="off"
                    spellcheck=${!1}
                  />`:u.name}
            </th>
            ${u.cells.map((v,m)=>w($,m,v,u.name))}
            ${t.result?l`<td class=${u.refusal?"result refused":"result"}>
                  ${u.refusal||u.result}
                </td>`:null}
          </tr>`,T(u,$)])}
      </tbody>
    </table>
  </div>`}function q({blocks:t,link:e}){let n={};return(t||[]).map(s=>{let i=Te[s.kind];if(!i)return null;n[s.kind]=(n[s.kind]||0)+1;let r=s.id||`${s.kind}${n[s.kind]}`;return l`<${i} key=${r} block=${s} link=${e} />`})}function re({block:t}){return t.level===2?l`<h2>${t.text}</h2>`:l`<h3>${t.text}</h3>`}var lt={warning:"!",refusal:"!",diagnosis:"✓",trust:"⇔",good:"✓"};function ie({block:t}){let e=lt[t.role],n=t.spoken||t.role==="status"?"status":void 0;if(e)return l`<p class=${`line ${t.role}`} role=${n}>
      <span class="sign" aria-hidden="true">${e}</span><span>${t.text}</span>
    </p>`;let s=t.role==="status"?"note":t.role;return l`<p class=${s} role=${n}>${t.text}</p>`}function ae({block:t,link:e}){let n=L("field"),s=`set ${t.id}`,i=e.text(s,t.text),r=x=>{let f=x.target.value;e.act("set",{id:t.id,to:f},{key:s,text:f})},o=()=>e.act("left",{id:t.id}),c=x=>{x.key!=="Enter"||!t.enter||t.lines||(x.preventDefault(),e.act("press",{id:t.enter}))},d=t.refusal||t.note,_={id:n,"data-control":t.id,value:i,onInput:r,onBlur:o,onKeyDown:c,spellcheck:!1,autocomplete:"off","aria-invalid":t.refusal||t.refused?"true":void 0,"aria-describedby":d?`${n}-note`:void 0,"aria-label":t.bare?t.label:void 0,style:t.width?`width:${t.width+3}ch`:""},a=t.options&&t.options.length?`${n}-list`:void 0;return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    ${t.lines?l`<textarea rows=${t.lines} ...${_}></textarea>`:l`<input type="text" list=${a} ...${_} />`}
    ${a?l`<datalist id=${a}>
          ${t.options.map(([x,f])=>l`<option value=${x}>${f}</option>`)}
        </datalist>`:null}
    ${d?l`<span id=${`${n}-note`} class=${t.refusal?"refused":"hint"}>${d}</span>`:null}
  </div>`}function oe({block:t,link:e}){let n=L("choice"),s=`set ${t.id}`,i=e.text(s,t.value),r=o=>{let c=o.target.value;e.act("set",{id:t.id,to:c},{key:s,text:c})};return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    <select id=${n} data-control=${t.id} onChange=${r} aria-label=${t.bare?t.label:void 0}>
      ${t.options.map(([o,c])=>l`<option value=${o} selected=${o===i}>${c}</option>`)}
    </select>
  </div>`}function le({block:t,link:e}){let n=`tick ${t.id}`,s=e.text(n,t.on),i=r=>{let o=r.target.checked;e.act("tick",{id:t.id,to:o},{key:n,text:o})};return l`<label class="tick"
    ><input type="checkbox" data-control=${t.id} checked=${s} onChange=${i} /> ${t.label}</label
  >`}function ue({block:t,link:e}){return l`<button
    type="button"
    class=${`button ${t.look}`}
    data-control=${t.id}
    disabled=${!t.enabled}
    aria-label=${t.spoken||void 0}
    title=${t.spoken||void 0}
    onClick=${()=>e.act("press",{id:t.id})}
  >
    ${t.label}
  </button>`}function ce({block:t,link:e}){return l`<div class=${t.even?"row even":"row"}><${q} blocks=${t.blocks} link=${e} /></div>`}function de({block:t,link:e}){let[n,s]=k(!1),i=L("chip");return l`<div class=${n?"chip open":"chip"}>
    <button
      type="button"
      class=${t.refused?"refused":""}
      aria-expanded=${n?"true":"false"}
      aria-controls=${i}
      onClick=${()=>s(!n)}
    >
      <span class="chip-label">${t.label}</span> ${t.text}
    </button>
    <div id=${i} class="chip-body" hidden=${!n}>
      ${n?l`<${q} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function pe({block:t,link:e}){return l`<div class="sentence">
    ${t.parts.map((n,s)=>n.kind==="words"?l`<span key=${s}>${n.text}</span>`:l`<${q} key=${n.id||s} blocks=${[n]} link=${e} />`)}
  </div>`}function fe({block:t,link:e}){let[n,s]=k(!!t.opened),i=L("more");return l`<div class="details">
    <button
      type="button"
      class="summary"
      aria-expanded=${n?"true":"false"}
      aria-controls=${i}
      onClick=${()=>s(!n)}
    >
      <span aria-hidden="true">${n?"−":"+"}</span> ${t.summary}
    </button>
    <div id=${i} hidden=${!n}>
      ${n?l`<${q} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function jt({block:t}){return l`<ul>
    ${t.items.map((e,n)=>l`<li key=${n}>${e}</li>`)}
  </ul>`}function zt({block:t,link:e}){let n=s=>e.act("pick",{id:t.id,to:s});return l`<div class=${t.prose?"scroll prose":"scroll"} tabindex="0" role="group" aria-label=${t.caption||"table"}>
    <table>
      ${t.caption?l`<caption>${t.caption}</caption>`:null}
      <thead>
        <tr>
          ${t.header.map((s,i)=>l`<th key=${i} scope="col">${s}</th>`)}
        </tr>
      </thead>
      <tbody>
        ${t.rows.map((s,i)=>l`<tr
            key=${i}
            class=${`${(t.looks||[])[i]||""} ${t.selected===i?"selected":""}`}
          >
            ${s.map((r,o)=>o?l`<td key=${o}>${r}</td>`:l`<th key=${o} scope="row">
                    ${t.id?l`<button
                          type="button"
                          class="button quiet"
                          aria-pressed=${t.selected===i?"true":"false"}
                          onClick=${()=>n(i)}
                        >
                          ${r}
                        </button>`:r}
                  </th>`)}
          </tr>`)}
      </tbody>
    </table>
  </div>`}function _e({block:t,link:e}){return l`<section class=${`verdict ${t.look.replace(" ","-")}`} aria-label="Verdict">
    <p class="headline" role="status">${t.headline}</p>
    <${q} blocks=${t.blocks} link=${e} />
  </section>`}function he({block:t}){return l`<ul class=${t.stale?"candidates stale":"candidates"} aria-label="Candidates">
    ${t.rows.map(e=>l`<li key=${e.name} class=${e.fits?"fits":"out"}>
        <span class="name">${e.name}</span>
        <span class="bar" aria-hidden="true"
          ><span style=${`width:${Math.max(100*e.share,e.share>0?.6:0)}%`}></span
        ></span>
        <span class="standing"
          >${[e.standing,e.p,e.yield].filter(Boolean).join(" · ")}</span
        >
      </li>`)}
  </ul>`}function $e({block:t,link:e}){let n=L("step"),s=`step ${t.id}`,i=Number(e.text(s,t.value)),r=c=>e.act("step",{id:t.id,to:c},{key:s,text:c}),o=t.words.length-1;return l`<div class="step">
    <label for=${n}>${t.label}</label>
    <input
      id=${n}
      data-control=${t.id}
      type="range"
      min="0"
      max=${o}
      step="1"
      value=${i}
      aria-valuetext=${t.words[i]}
      onInput=${c=>r(Number(c.target.value))}
      onBlur=${()=>e.act("left",{id:t.id})}
    />
    <output for=${n}>${t.words[i]}</output>
    ${t.own>=0&&i!==t.own?l`<button type="button" class="button quiet" onClick=${()=>r(t.own)}>
          back to ${t.words[t.own].replace(" (mine)","")}
        </button>`:null}
  </div>`}function me({block:t,link:e}){return l`<div class="progress">
    <span class="turn" aria-hidden="true"></span>
    <span role="status">${t.words}</span>
    <button
      type="button"
      class="button"
      data-control=${t.id}
      onClick=${()=>e.act("press",{id:t.id})}
    >
      Stop
    </button>
  </div>`}function ye(t,e,n){let s=new FileReader;s.onload=()=>t.act("file",{id:e,name:n.name,base64:String(s.result).split(",")[1]||""}),s.readAsDataURL(n)}function ve({block:t,link:e}){let n=L("file"),s=i=>{let r=i.target.files&&i.target.files[0];r&&ye(e,t.id,r),i.target.value=""};return l`<div class="field">
    <label for=${n}>${t.label}</label>
    <input id=${n} data-control=${t.id} type="file" accept=${t.accept} onChange=${s} />
  </div>`}function ge({part:t}){return l`<p class="equation">
    ${t.sides.map((e,n)=>l`<span key=${n}>${n?"= ":""}${e}</span>`)}
    ${t.remark?l`<span class="hint">${t.remark}</span>`:null}
  </p>`}function xe({part:t}){let e=`data:image/svg+xml;charset=utf-8,${encodeURIComponent(t.svg)}`;return l`<figure class="drawing">
    <img src=${e} alt=${t.alt_text} />
    ${t.caption?l`<figcaption>${t.caption}</figcaption>`:null}
  </figure>`}var we=40;function Ce({part:t}){switch(t.kind){case"strong":return l`<p class="strong">${t.text}</p>`;case"subheading":return l`<h4>${t.text}</h4>`;case"list":return l`<${jt} block=${t} />`;case"table":return l`<${zt} block=${{...t,prose:t.rows.some(e=>e.some(n=>n.length>we))}} />`;case"equation":return l`<${ge} part=${t} />`;case"picture":return l`<${xe} part=${t} />`;case"field":return l`<p>${t.label}: ${t.value||"________________"}</p>`;default:return l`<p>${t.text}</p>`}}function be({block:t}){return l`<article class="document">
    ${t.titled&&t.title?l`<h2>${t.title}</h2>`:null}
    ${t.opening.map((e,n)=>l`<p key=${n}>${e}</p>`)}
    ${t.sections.map((e,n)=>l`<section key=${n}>
        ${e.title?l`<h3>${e.title}</h3>`:null}
        ${e.parts.map((s,i)=>l`<${Ce} key=${i} part=${s} />`)}
      </section>`)}
  </article>`}function Se({block:t}){return l`<pre class="source" tabindex="0" role="region" aria-label=${t.label}>
${t.text}</pre
  >`}async function Ee(t){if(navigator.clipboard&&window.isSecureContext)return navigator.clipboard.writeText(t);let e=document.createElement("textarea");e.value=t,document.body.append(e),e.select();let n=document.execCommand("copy");if(e.remove(),!n)throw new Error("the browser refused")}function De({block:t}){let[e,n]=k("");return l`<div class="row">
    <button type="button" class="button" onClick=${()=>Ee(t.text).then(()=>n("Copied."),()=>n("The browser does not allow copying: select the text instead."))}>${t.label}</button>
    <span class="note" role="status">${e}</span>
  </div>`}var ot=class extends H{componentDidMount(){let{block:e,link:n}=this.props,s=Pe(e.place);s&&s!==e.text?n.act("set",{id:e.id,to:s}):e.text&&Wt(e.place,e.text)}componentDidUpdate(){let{block:e}=this.props;e.text&&Wt(e.place,e.text)}render(){return null}};function Pe(t){try{return window.localStorage.getItem(t)||""}catch{return""}}function Wt(t,e){try{window.localStorage.setItem(t,e)}catch{return}}var Te={heading:re,words:ie,field:ae,choice:oe,tick:le,button:ue,row:ce,chip:de,sentence:pe,details:fe,list:jt,table:zt,verdict:_e,candidates:he,step:$e,progress:me,file:ve,document:be,picture:Ft,sheet:Ot,source:Se,copy:De,kept:ot};var Q=class{constructor(e){this.send=e,this.page=Math.random().toString(36).slice(2)+Date.now().toString(36),this.number=0,this.seen=0,this.queue=[],this.under=null,this.local=new Map,this.regions={},this.drawn={},this.focus="",this.layout={screen:"",places:[],tabs:[]},this.said={text:"",role:""},this.alive=!1,this.settled=!1,this.silent=!1,this.silence="Python does not answer. If it was stopped, run the cell again: what you typed was kept.",this.followers=[],this.onFile=()=>{}}act(e,n={},s={}){let i={page:this.page,number:++this.number,name:e,arguments:n},r=s.key??"",o=this.queue[this.queue.length-1];r&&o&&o.key===r?o.action=i:this.queue.push({action:i,key:r}),r&&"text"in s&&this.local.set(r,{text:s.text,number:i.number}),this.settled=!1,this.pump(),this.tell()}pump(){if(this.under||!this.queue.length)return;let{action:e}=this.queue.shift(),n=setTimeout(()=>{this.silent=!0,this.tell()},6e3);this.under={action:e,number:e.number,timer:n},this.send(e)}receive(e){if(!e||typeof e!="object"||!e.layout)return;let n=e.seen&&e.seen[this.page]||0;if(n>=this.seen){if(e.layout.screen!==this.layout.screen){let s=this.regions.head;this.regions=s?{head:s}:{},this.drawn={}}this.layout=e.layout,this.said=e.said,this.focus=e.focus||this.focus}if(e.layout.screen===this.layout.screen)for(let[s,i]of Object.entries(e.regions))n>=(this.drawn[s]||0)&&(this.regions[s]=i,this.drawn[s]=n);this.alive=!0,this.silent=!1,this.seen=Math.max(this.seen,n);for(let[s,i]of this.local)i.number<=this.seen&&this.local.delete(s);this.under&&this.seen>=this.under.number&&(clearTimeout(this.under.timer),this.under=null,this.pump()),this.settled=!!e.settled&&n===this.seen&&!this.under;for(let s of e.files||[])this.onFile(s);this.tell()}get open(){let e=this.queue.map(n=>n.action);return this.under?[this.under.action,...e]:e}renew(){this.under&&clearTimeout(this.under.timer),this.under=null,this.queue=[],this.silent=!1,this.act("ready")}text(e,n){let s=this.local.get(e);return s?s.text:n}tell(){for(let e of this.followers)e()}};var ut=class extends H{componentDidMount(){this.follow=()=>this.setState({}),this.props.link.followers.push(this.follow)}componentDidUpdate(){let{link:e}=this.props;if(!e.focus)return;let n=this.base.querySelector(`[data-control="${CSS.escape(e.focus)}"]`);n&&n.focus(),e.focus=""}componentWillUnmount(){let{followers:e}=this.props.link;e.splice(e.indexOf(this.follow),1)}render({link:e}){let{layout:n,regions:s,said:i}=e,r=_=>n.places.filter(([a])=>a===_).map(([,a])=>l`<div key=${a} class=${`region r-${a}`}>
            <${q} blocks=${s[a]} link=${e} />
          </div>`),o=_=>n.places.some(([a])=>a===_),c=o("left")&&o("right"),d=_=>()=>e.act("show",{id:_});return l`<div class=${e.settled?"page settled":"page"}>
      ${o("head")?l`<div class="top">${r("head")}</div>`:null}
      ${n.tabs.length>1?l`<nav aria-label="Screens">
            ${n.tabs.map(([_,a])=>l`<button
                key=${_}
                type="button"
                class=${_===n.screen?"tab shown":"tab"}
                aria-current=${_===n.screen?"page":void 0}
                onClick=${d(_)}
              >
                ${a}
              </button>`)}
          </nav>`:null}
      <div class="said" role="status" aria-live="polite">
        ${e.silent?l`<p class="line refusal">
              <span class="sign" aria-hidden="true">!</span
              ><span>${e.silence}</span>
            </p>`:null}
        ${i.text?l`<p class=${`line ${i.role}`}>
              <span class="sign" aria-hidden="true">${lt[i.role]||"✓"}</span
              ><span>${i.text}</span>
            </p>`:null}
      </div>
      <div class=${c?"both":"one"}>
        ${o("left")?l`<div class="left">${r("left")}</div>`:null}
        ${o("right")?l`<div class="right">${r("right")}</div>`:null}
        ${o("wide")?l`<div class="wide">${r("wide")}</div>`:null}
      </div>
    </div>`}};async function Ae(t){let e=Uint8Array.from(atob(t.base64),i=>i.charCodeAt(0)),n=new Blob([e],{type:t.type});t.name.endsWith(".png")&&t.type==="image/svg+xml"&&(n=await Ue(n));let s=document.createElement("a");s.href=URL.createObjectURL(n),s.download=t.name,document.body.append(s),s.click(),s.remove(),setTimeout(()=>URL.revokeObjectURL(s.href),1e4)}function Ue(t){return new Promise((e,n)=>{let s=new Image;s.onload=()=>{let i=document.createElement("canvas");i.width=2*s.width,i.height=2*s.height;let r=i.getContext("2d");if(!r)return n(new Error("no canvas"));r.drawImage(s,0,0,i.width,i.height),i.toBlob(o=>o?e(o):n(new Error("no picture")),"image/png"),URL.revokeObjectURL(s.src)},s.onerror=n,s.src=URL.createObjectURL(t)})}function Vt(t,e){t.classList.add("stoichkit");let n=new Q(e);return n.onFile=s=>{Ae(s)},it(l`<${ut} link=${n} />`,t),n.act("ready"),{link:n,close:()=>{n.under&&clearTimeout(n.under.timer),it(null,t)}}}function Le(t){for(let e of document.querySelectorAll(`[data-stoichkit-still="${CSS.escape(t)}"]`)){let n=e.closest(".jp-OutputArea-child")||e;n instanceof HTMLElement&&(n.style.display="none")}}var Je={render({model:t,el:e}){e.setAttribute("data-lm-suppress-shortcuts","true"),e.addEventListener("keydown",i=>i.stopPropagation());let n=Vt(e,i=>t.send(i)),s=i=>{n.link.receive(i),Le(t.get("key"))};return t.on("msg:custom",s),()=>{t.off("msg:custom",s),n.close()}}};export{Je as default};
