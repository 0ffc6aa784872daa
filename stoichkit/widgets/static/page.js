var K,y,xt,F,wt,lt,zt,z={},bt=[],Vt=/acit|ex(?:s|g|n|p|$)|rph|grid|ows|mnc|ntw|ine[ch]|zoo|^ord|itera/i;function M(t,e){for(var n in e)t[n]=e[n];return t}function Ct(t){var e=t.parentNode;e&&e.removeChild(t)}function St(t,e,n){var s,i,r,a={};for(r in e)r=="key"?s=e[r]:r=="ref"?i=e[r]:a[r]=e[r];if(arguments.length>2&&(a.children=arguments.length>3?K.call(arguments,2):n),typeof t=="function"&&t.defaultProps!=null)for(r in t.defaultProps)a[r]===void 0&&(a[r]=t.defaultProps[r]);return W(t,a,s,i,null)}function W(t,e,n,s,i){var r={type:t,props:e,key:n,ref:s,__k:null,__:null,__b:0,__e:null,__d:void 0,__c:null,__h:null,constructor:void 0,__v:i??++xt};return y.vnode!=null&&y.vnode(r),r}function Y(t){return t.children}function H(t,e){this.props=t,this.context=e}function B(t,e){if(e==null)return t.__?B(t.__,t.__.__k.indexOf(t)+1):null;for(var n;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null)return n.__e;return typeof t.type=="function"?B(t):null}function Et(t){var e,n;if((t=t.__)!=null&&t.__c!=null){for(t.__e=t.__c.base=null,e=0;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null){t.__e=t.__c.base=n.__e;break}return Et(t)}}function ut(t){(!t.__d&&(t.__d=!0)&&F.push(t)&&!V.__r++||lt!==y.debounceRendering)&&((lt=y.debounceRendering)||wt)(V)}function V(){for(var t;V.__r=F.length;)t=F.sort(function(e,n){return e.__v.__b-n.__v.__b}),F=[],t.some(function(e){var n,s,i,r,a,u;e.__d&&(a=(r=(n=e).__v).__e,(u=n.__P)&&(s=[],(i=M({},r)).__v=r.__v+1,nt(u,r,i,n.__n,u.ownerSVGElement!==void 0,r.__h!=null?[a]:null,s,a??B(r),r.__h),Ut(s,r),r.__e!=a&&Et(r)))})}function Dt(t,e,n,s,i,r,a,u,d,_){var o,g,f,h,x,A,b,c=s&&s.__k||bt,$=c.length;for(n.__k=[],o=0;o<e.length;o++)if((h=n.__k[o]=(h=e[o])==null||typeof h=="boolean"?null:typeof h=="string"||typeof h=="number"||typeof h=="bigint"?W(null,h,null,null,h):Array.isArray(h)?W(Y,{children:h},null,null,null):h.__b>0?W(h.type,h.props,h.key,null,h.__v):h)!=null){if(h.__=n,h.__b=n.__b+1,(f=c[o])===null||f&&h.key==f.key&&h.type===f.type)c[o]=void 0;else for(g=0;g<$;g++){if((f=c[g])&&h.key==f.key&&h.type===f.type){c[g]=void 0;break}f=null}nt(t,h,f=f||z,i,r,a,u,d,_),x=h.__e,(g=h.ref)&&f.ref!=g&&(b||(b=[]),f.ref&&b.push(f.ref,null,h),b.push(g,h.__c||x,h)),x!=null?(A==null&&(A=x),typeof h.type=="function"&&h.__k!=null&&h.__k===f.__k?h.__d=d=Pt(h,d,t):d=At(t,h,f,c,x,d),_||n.type!=="option"?typeof n.type=="function"&&(n.__d=d):t.value=""):d&&f.__e==d&&d.parentNode!=t&&(d=B(f))}for(n.__e=A,o=$;o--;)c[o]!=null&&(typeof n.type=="function"&&c[o].__e!=null&&c[o].__e==n.__d&&(n.__d=B(s,o+1)),Lt(c[o],c[o]));if(b)for(o=0;o<b.length;o++)Tt(b[o],b[++o],b[++o])}function Pt(t,e,n){var s,i;for(s=0;s<t.__k.length;s++)(i=t.__k[s])&&(i.__=t,e=typeof i.type=="function"?Pt(i,e,n):At(n,i,i,t.__k,i.__e,e));return e}function At(t,e,n,s,i,r){var a,u,d;if(e.__d!==void 0)a=e.__d,e.__d=void 0;else if(n==null||i!=r||i.parentNode==null)t:if(r==null||r.parentNode!==t)t.appendChild(i),a=null;else{for(u=r,d=0;(u=u.nextSibling)&&d<s.length;d+=2)if(u==i)break t;t.insertBefore(i,r),a=r}return a!==void 0?a:i.nextSibling}function ct(t,e,n){e[0]==="-"?t.setProperty(e,n):t[e]=n==null?"":typeof n!="number"||Vt.test(e)?n:n+"px"}function O(t,e,n,s,i){var r;t:if(e==="style")if(typeof n=="string")t.style.cssText=n;else{if(typeof s=="string"&&(t.style.cssText=s=""),s)for(e in s)n&&e in n||ct(t.style,e,"");if(n)for(e in n)s&&n[e]===s[e]||ct(t.style,e,n[e])}else if(e[0]==="o"&&e[1]==="n")r=e!==(e=e.replace(/Capture$/,"")),e=e.toLowerCase()in t?e.toLowerCase().slice(2):e.slice(2),t.l||(t.l={}),t.l[e+r]=n,n?s||t.addEventListener(e,r?pt:dt,r):t.removeEventListener(e,r?pt:dt,r);else if(e!=="dangerouslySetInnerHTML"){if(i)e=e.replace(/xlink[H:h]/,"h").replace(/sName$/,"s");else if(e!=="href"&&e!=="list"&&e!=="form"&&e!=="tabIndex"&&e!=="download"&&e in t)try{t[e]=n??"";break t}catch{}typeof n=="function"||(n!=null&&(n!==!1||e[0]==="a"&&e[1]==="r")?t.setAttribute(e,n):t.removeAttribute(e))}}function dt(t){this.l[t.type+!1](y.event?y.event(t):t)}function pt(t){this.l[t.type+!0](y.event?y.event(t):t)}function nt(t,e,n,s,i,r,a,u,d){var _,o,g,f,h,x,A,b,c,$,v,m=e.type;if(e.constructor!==void 0)return null;n.__h!=null&&(d=n.__h,u=e.__e=n.__e,e.__h=null,r=[u]),(_=y.__b)&&_(e);try{t:if(typeof m=="function"){if(b=e.props,c=(_=m.contextType)&&s[_.__c],$=_?c?c.props.value:_.__:s,n.__c?A=(o=e.__c=n.__c).__=o.__E:("prototype"in m&&m.prototype.render?e.__c=o=new m(b,$):(e.__c=o=new H(b,$),o.constructor=m,o.render=Kt),c&&c.sub(o),o.props=b,o.state||(o.state={}),o.context=$,o.__n=s,g=o.__d=!0,o.__h=[]),o.__s==null&&(o.__s=o.state),m.getDerivedStateFromProps!=null&&(o.__s==o.state&&(o.__s=M({},o.__s)),M(o.__s,m.getDerivedStateFromProps(b,o.__s))),f=o.props,h=o.state,g)m.getDerivedStateFromProps==null&&o.componentWillMount!=null&&o.componentWillMount(),o.componentDidMount!=null&&o.__h.push(o.componentDidMount);else{if(m.getDerivedStateFromProps==null&&b!==f&&o.componentWillReceiveProps!=null&&o.componentWillReceiveProps(b,$),!o.__e&&o.shouldComponentUpdate!=null&&o.shouldComponentUpdate(b,o.__s,$)===!1||e.__v===n.__v){o.props=b,o.state=o.__s,e.__v!==n.__v&&(o.__d=!1),o.__v=e,e.__e=n.__e,e.__k=n.__k,e.__k.forEach(function(C){C&&(C.__=e)}),o.__h.length&&a.push(o);break t}o.componentWillUpdate!=null&&o.componentWillUpdate(b,o.__s,$),o.componentDidUpdate!=null&&o.__h.push(function(){o.componentDidUpdate(f,h,x)})}o.context=$,o.props=b,o.state=o.__s,(_=y.__r)&&_(e),o.__d=!1,o.__v=e,o.__P=t,_=o.render(o.props,o.state,o.context),o.state=o.__s,o.getChildContext!=null&&(s=M(M({},s),o.getChildContext())),g||o.getSnapshotBeforeUpdate==null||(x=o.getSnapshotBeforeUpdate(f,h)),v=_!=null&&_.type===Y&&_.key==null?_.props.children:_,Dt(t,Array.isArray(v)?v:[v],e,n,s,i,r,a,u,d),o.base=e.__e,e.__h=null,o.__h.length&&a.push(o),A&&(o.__E=o.__=null),o.__e=!1}else r==null&&e.__v===n.__v?(e.__k=n.__k,e.__e=n.__e):e.__e=Gt(n.__e,e,n,s,i,r,a,d);(_=y.diffed)&&_(e)}catch(C){e.__v=null,(d||r!=null)&&(e.__e=u,e.__h=!!d,r[r.indexOf(u)]=null),y.__e(C,e,n)}}function Ut(t,e){y.__c&&y.__c(e,t),t.some(function(n){try{t=n.__h,n.__h=[],t.some(function(s){s.call(n)})}catch(s){y.__e(s,n.__v)}})}function Gt(t,e,n,s,i,r,a,u){var d,_,o,g=n.props,f=e.props,h=e.type,x=0;if(h==="svg"&&(i=!0),r!=null){for(;x<r.length;x++)if((d=r[x])&&(d===t||(h?d.localName==h:d.nodeType==3))){t=d,r[x]=null;break}}if(t==null){if(h===null)return document.createTextNode(f);t=i?document.createElementNS("http://www.w3.org/2000/svg",h):document.createElement(h,f.is&&f),r=null,u=!1}if(h===null)g===f||u&&t.data===f||(t.data=f);else{if(r=r&&K.call(t.childNodes),_=(g=n.props||z).dangerouslySetInnerHTML,o=f.dangerouslySetInnerHTML,!u){if(r!=null)for(g={},x=0;x<t.attributes.length;x++)g[t.attributes[x].name]=t.attributes[x].value;(o||_)&&(o&&(_&&o.__html==_.__html||o.__html===t.innerHTML)||(t.innerHTML=o&&o.__html||""))}if((function(A,b,c,$,v){var m;for(m in c)m==="children"||m==="key"||m in b||O(A,m,null,c[m],$);for(m in b)v&&typeof b[m]!="function"||m==="children"||m==="key"||m==="value"||m==="checked"||c[m]===b[m]||O(A,m,b[m],c[m],$)})(t,f,g,i,u),o)e.__k=[];else if(x=e.props.children,Dt(t,Array.isArray(x)?x:[x],e,n,s,i&&h!=="foreignObject",r,a,r?r[0]:n.__k&&B(n,0),u),r!=null)for(x=r.length;x--;)r[x]!=null&&Ct(r[x]);u||("value"in f&&(x=f.value)!==void 0&&(x!==t.value||h==="progress"&&!x)&&O(t,"value",x,g.value,!1),"checked"in f&&(x=f.checked)!==void 0&&x!==t.checked&&O(t,"checked",x,g.checked,!1))}return t}function Tt(t,e,n){try{typeof t=="function"?t(e):t.current=e}catch(s){y.__e(s,n)}}function Lt(t,e,n){var s,i;if(y.unmount&&y.unmount(t),(s=t.ref)&&(s.current&&s.current!==t.__e||Tt(s,null,e)),(s=t.__c)!=null){if(s.componentWillUnmount)try{s.componentWillUnmount()}catch(r){y.__e(r,e)}s.base=s.__P=null}if(s=t.__k)for(i=0;i<s.length;i++)s[i]&&Lt(s[i],e,typeof t.type!="function");n||t.__e==null||Ct(t.__e),t.__e=t.__d=void 0}function Kt(t,e,n){return this.constructor(t,n)}function st(t,e,n){var s,i,r;y.__&&y.__(t,e),i=(s=typeof n=="function")?null:n&&n.__k||e.__k,r=[],nt(e,t=(!s&&n||e).__k=St(Y,null,[t]),i||z,z,e.ownerSVGElement!==void 0,!s&&n?[n]:i?null:e.firstChild?K.call(e.childNodes):null,r,!s&&n?n:i?i.__e:e.firstChild,s),Ut(r,t)}K=bt.slice,y={__e:function(t,e){for(var n,s,i;e=e.__;)if((n=e.__c)&&!n.__)try{if((s=n.constructor)&&s.getDerivedStateFromError!=null&&(n.setState(s.getDerivedStateFromError(t)),i=n.__d),n.componentDidCatch!=null&&(n.componentDidCatch(t),i=n.__d),i)return n.__E=n}catch(r){t=r}throw t}},xt=0,H.prototype.setState=function(t,e){var n;n=this.__s!=null&&this.__s!==this.state?this.__s:this.__s=M({},this.state),typeof t=="function"&&(t=t(M({},n),this.props)),t&&M(n,t),t!=null&&this.__v&&(e&&this.__h.push(e),ut(this))},H.prototype.forceUpdate=function(t){this.__v&&(this.__e=!0,t&&this.__h.push(t),ut(this))},H.prototype.render=Y,F=[],wt=typeof Promise=="function"?Promise.prototype.then.bind(Promise.resolve()):setTimeout,V.__r=0,zt=0;var q,U,ft,G=0,tt=[],_t=y.__b,ht=y.__r,$t=y.diffed,mt=y.__c,yt=y.unmount;function Z(t,e){y.__h&&y.__h(U,t,G||e),G=0;var n=U.__H||(U.__H={__:[],__h:[]});return t>=n.__.length&&n.__.push({}),n.__[t]}function I(t){return G=1,Yt(Rt,t)}function Yt(t,e,n){var s=Z(q++,2);return s.t=t,s.__c||(s.__=[n?n(e):Rt(void 0,e),function(i){var r=s.t(s.__[0],i);s.__[0]!==r&&(s.__=[r,s.__[1]],s.__c.setState({}))}],s.__c=U),s.__}function Mt(t,e){var n=Z(q++,3);!y.__s&&rt(n.__H,e)&&(n.__=t,n.__H=e,U.__H.__h.push(n))}function Ht(t,e){var n=Z(q++,4);!y.__s&&rt(n.__H,e)&&(n.__=t,n.__H=e,U.__h.push(n))}function R(t){return G=5,Zt(function(){return{current:t}},[])}function Zt(t,e){var n=Z(q++,7);return rt(n.__H,e)&&(n.__=t(),n.__H=e,n.__h=t),n.__}function Xt(){tt.forEach(function(t){if(t.__P)try{t.__H.__h.forEach(j),t.__H.__h.forEach(et),t.__H.__h=[]}catch(e){t.__H.__h=[],y.__e(e,t.__v)}}),tt=[]}y.__b=function(t){U=null,_t&&_t(t)},y.__r=function(t){ht&&ht(t),q=0;var e=(U=t.__c).__H;e&&(e.__h.forEach(j),e.__h.forEach(et),e.__h=[])},y.diffed=function(t){$t&&$t(t);var e=t.__c;e&&e.__H&&e.__H.__h.length&&(tt.push(e)!==1&&ft===y.requestAnimationFrame||((ft=y.requestAnimationFrame)||function(n){var s,i=function(){clearTimeout(r),vt&&cancelAnimationFrame(s),setTimeout(n)},r=setTimeout(i,100);vt&&(s=requestAnimationFrame(i))})(Xt)),U=void 0},y.__c=function(t,e){e.some(function(n){try{n.__h.forEach(j),n.__h=n.__h.filter(function(s){return!s.__||et(s)})}catch(s){e.some(function(i){i.__h&&(i.__h=[])}),e=[],y.__e(s,n.__v)}}),mt&&mt(t,e)},y.unmount=function(t){yt&&yt(t);var e=t.__c;if(e&&e.__H)try{e.__H.__.forEach(j)}catch(n){y.__e(n,e.__v)}};var vt=typeof requestAnimationFrame=="function";function j(t){var e=U;typeof t.__c=="function"&&t.__c(),U=e}function et(t){var e=U;t.__c=t.__(),U=e}function rt(t,e){return!t||t.length!==e.length||e.some(function(n,s){return n!==t[s]})}function Rt(t,e){return typeof e=="function"?e(t):e}var Nt=function(t,e,n,s){var i;e[0]=0;for(var r=1;r<e.length;r++){var a=e[r++],u=e[r]?(e[0]|=a?1:2,n[e[r++]]):e[++r];a===3?s[0]=u:a===4?s[1]=Object.assign(s[1]||{},u):a===5?(s[1]=s[1]||{})[e[++r]]=u:a===6?s[1][e[++r]]+=u+"":a?(i=t.apply(u,Nt(t,u,n,["",null])),s.push(i),u[0]?e[0]|=2:(e[r-2]=0,e[r]=i)):s.push(u)}return s},gt=new Map,l=function(t){var e=gt.get(this);return e||(e=new Map,gt.set(this,e)),(e=Nt(this,e.get(t)||(e.set(t,e=(function(n){for(var s,i,r=1,a="",u="",d=[0],_=function(f){r===1&&(f||(a=a.replace(/^\s*\n\s*|\s*\n\s*$/g,"")))?d.push(0,f,a):r===3&&(f||a)?(d.push(3,f,a),r=2):r===2&&a==="..."&&f?d.push(4,f,0):r===2&&a&&!f?d.push(5,0,!0,a):r>=5&&((a||!f&&r===5)&&(d.push(r,0,a,i),r=6),f&&(d.push(r,f,0,i),r=6)),a=""},o=0;o<n.length;o++){o&&(r===1&&_(),_(o));for(var g=0;g<n[o].length;g++)s=n[o][g],r===1?s==="<"?(_(),d=[d],r=3):a+=s:r===4?a==="--"&&s===">"?(r=1,a=""):a=s+a[0]:u?s===u?u="":a+=s:s==='"'||s==="'"?u=s:s===">"?(_(),r=1):r&&(s==="="?(r=5,i=a,a=""):s==="/"&&(r<5||n[o][g+1]===">")?(_(),r===3&&(d=d[0]),r=d,(d=d[0]).push(2,0,r),r=0):s===" "||s==="	"||s===`
`||s==="\r"?(_(),r=2):a+=s),r===3&&a==="!--"&&(r=4,d=d[0])}return _(),d})(t)),e),arguments,[])).length>1?e:e[0]}.bind(St);var Jt=0;function T(t){let e=R("");return e.current||(e.current=`stoichkit-${t}-${++Jt}`),e.current}var N=.5522847498307936,It=t=>/^[a-z]+$/.test(t)?`var(--pic-${t})`:t;function kt(t){let e=[];for(let n=0;n<t.length;n+=2)e.push(`${t[n]},${t[n+1]}`);return e.join(" ")}function Qt([t,e,n,s,i,r]){let u=[[1,0],[1,N],[N,1],[0,1],[-N,1],[-1,N],[-1,0],[-1,-N],[-N,-1],[0,-1],[N,-1],[1,-N],[1,0]].map(([d,_])=>`${(t+d*n+_*i).toFixed(2)} ${(e+d*s+_*r).toFixed(2)}`);return`M${u[0]} C${u.slice(1,4).join(" ")} C${u.slice(4,7).join(" ")} C${u.slice(7,10).join(" ")} C${u.slice(10,13).join(" ")}Z`}function te({item:t}){let e=It(t.ink);switch(t.is){case"line":return l`<polyline points=${kt(t.at)} style=${`fill:none;stroke:${e}`} stroke-width=${t.width} stroke-dasharray=${t.dashes?t.dashes.join(" "):void 0} />`;case"area":return l`<polygon points=${kt(t.at)} style=${`fill:${e};fill-opacity:${t.opacity};${t.edge?`stroke:${It(t.edge)};stroke-width:0.9`:""}`} />`;case"ellipse":return l`<path d=${Qt(t.at)} style=${`fill:${t.opacity?e:"none"};fill-opacity:${t.opacity};stroke:${e}`} stroke-width=${t.width} />`;case"circle":return l`<circle cx=${t.at[0]} cy=${t.at[1]} r=${t.size} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`;case"diamond":{let[n,s]=t.at,i=t.size;return l`<path d=${`M${n} ${s-i}L${n+i} ${s}L${n} ${s+i}L${n-i} ${s}Z`} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`}case"words":{let[n,s]=t.at;return l`<text x=${n} y=${s} font-size=${t.size} text-anchor=${t.anchor==="start"?void 0:t.anchor} font-weight=${t.bold?"bold":void 0} style=${`fill:${e}`} transform=${t.angle?`rotate(${t.angle} ${n} ${s})`:void 0}>${t.text}</text>`}default:return null}}function Bt({block:t,link:e}){let n=R(null),s=R(null),[i,r]=I(""),[a,u]=I(null),[d,_,o,g]=a&&a.limits||t.limits,{width:f,height:h}=t,x=([p,w],[S,P,D,E]=t.limits)=>[(p-S)/(P-S)*f,h-(w-D)/(E-D)*h],A=p=>`move ${t.id} ${p.name}`;Mt(()=>{if(!t.sizes||!n.current||typeof ResizeObserver>"u")return;let p=0,w=0,S=()=>{let D=Math.floor(n.current?n.current.clientWidth:0);D<100||D>=w&&D-w<9||(w=D,e.act("pick",{id:`${t.id}:width`,to:D},{key:`width ${t.id}`}))},P=new ResizeObserver(()=>{clearTimeout(p),p=setTimeout(S,120)});return P.observe(n.current),()=>P.disconnect()},[t.id,t.sizes]);let b=p=>{let w=s.current.getBoundingClientRect(),S=d+(p.clientX-w.left)/w.width*(_-d),P=g-(p.clientY-w.top)/w.height*(g-o);return[S,P]},c=(p,w,S)=>e.act("move",{id:`${t.id}:move`,spot:p.name,x:w,y:S},{key:A(p),text:[w,S]}),$=p=>w=>{!p.drag||!t.moves||(w.preventDefault(),w.currentTarget.focus(),w.currentTarget.setPointerCapture(w.pointerId),u({name:p.name,at:[p.x,p.y],limits:t.limits}))},v=p=>w=>{if(!a||!a.limits||a.name!==p.name)return;let[S,P]=b(w);u({...a,at:[S,P]}),c(p,S,P)},m=()=>{a&&e.act("left",{id:t.id}),u(null)},C=p=>w=>{if(!p.drag||!t.moves)return;let S=w.shiftKey?20:100,P=(_-d)/S,D=(g-o)/S,E={ArrowLeft:[-P,0],ArrowRight:[P,0],ArrowUp:[0,D],ArrowDown:[0,-D]}[w.key];if(!E)return;w.preventDefault();let[L,J]=a&&a.name===p.name?a.at:[p.x,p.y],Q=[L+E[0],J+E[1]];u({name:p.name,at:Q,limits:null}),c(p,Q[0],Q[1])};return l`<figure class=${t.stale?"picture stale":"picture"} ref=${n}>
    <svg ref=${s} viewBox=${`0 0 ${f} ${h}`} style=${`width:${Math.round(f*1.5)}px`} role="group" aria-label=${t.title}>
      <g aria-hidden="true">${t.items.map((p,w)=>l`<${te} key=${w} item=${p} />`)}</g>
      ${t.spots.map((p,w)=>{let S=a&&a.name===p.name,P=e.text(A(p),[p.x,p.y]),[D,E]=S?x(a.at,a.limits||t.limits):x(P),L=p.drag&&t.moves?`${p.words}. Arrow keys move it`:p.words;return l`<g key=${w} class=${S?"spot moving":"spot"} tabindex="0" role=${p.drag&&t.moves?"button":"img"} aria-label=${L}
          onPointerDown=${$(p)} onPointerMove=${v(p)} onPointerUp=${m} onPointerCancel=${m}
          onKeyDown=${C(p)} onMouseEnter=${()=>r(p.words)} onMouseLeave=${()=>r("")}
          onFocus=${()=>r(p.words)} onBlur=${()=>{r(""),u(null),e.act("left",{id:t.id})}}>
          <circle cx=${D} cy=${E} r="9" class="target" />
          ${S?l`<circle cx=${D} cy=${E} r="4" class="moved" />`:null}
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
  </figure>`}function ee(t){return t.replace(/\r\n?/g,`
`).replace(/\n+$/,"").split(`
`).map(n=>n.split("	"))}function Ft({block:t,link:e}){let n=R(null),s=R(null),i=T("sheet"),r=`grow ${t.id}`,a=Number(e.text(r,0))-t.rows.length,u=[...t.rows,...Array.from({length:Math.max(a,0)},()=>({name:"",cells:t.columns.map(()=>({text:"",refusal:"",mark:"",note:"",lines:0})),result:"",refusal:""}))],d=(c,$)=>n.current&&n.current.querySelector(`[data-at="${c}:${$}"]`),_=(c,$)=>{let v=d(c,$);return v?(v.focus(),v.select&&v.select(),!0):!1};Ht(()=>{s.current&&_(...s.current)&&(s.current=null)});let o=(c,$)=>v=>{let m=v.target.value,C=`cell ${t.id} ${c} ${$}`;e.act("cells",{id:t.id,row:c,column:$,to:[[m]]},{key:C,text:m})},g=(c,$)=>v=>{let m=v.clipboardData&&v.clipboardData.getData("text/plain"),C=m?ee(m):[];C.length<2&&(!C[0]||C[0].length<2)||(v.preventDefault(),e.act("cells",{id:t.id,row:c,column:$,to:C}))},f=(c,$,v)=>m=>{let{key:C,target:p}=m,w=p.selectionStart===0&&p.selectionEnd===0,S=p.value.length,P=p.selectionStart===S&&p.selectionEnd===S,D=p.selectionStart===0&&p.selectionEnd===S,E=null;if(C==="Enter"&&!(v&&m.altKey)?E=[c+(m.shiftKey?-1:1),$]:C==="ArrowDown"?E=[c+1,$]:C==="ArrowUp"?E=[c-1,$]:C==="ArrowLeft"&&(w||D)?E=[c,$-1]:C==="ArrowRight"&&(P||D)&&(E=[c,$+1]),!E||(m.preventDefault(),_(E[0],E[1])))return;let L=u.length;if(C!=="Enter"||E[0]<L||!t.grows)return;s.current=[L,0];let J={id:t.id,row:L,column:0,to:[[""]]};e.act("cells",J,{key:r,text:L+1})},h=()=>e.act("left",{id:t.id}),x=(c,$,v,m)=>{let C=`${m}, ${t.columns[$].label}`,p=e.text(`cell ${t.id} ${c} ${$}`,v.text),w=v.refusal||v.note;return l`<td key=${$} class=${v.refusal?"refused":v.mark.replace(" ","-")}>
      <input
        type="text"
        data-at=${`${c}:${$}`}
        data-control=${`${t.id} ${c} ${$}`}
        value=${p}
        style=${`min-width:${Math.min(String(p).length,30)+3}ch`}
        aria-label=${v.mark?`${C}, ${v.mark}`:C}
        aria-invalid=${v.refusal?"true":void 0}
        aria-describedby=${v.refusal?`${i}-${c}`:void 0}
        title=${w||void 0}
        inputmode="decimal"
        autocomplete="off"
        spellcheck=${!1}
        onInput=${o(c,$)}
        onPaste=${g(c,$)}
        onKeyDown=${f(c,$,v.lines)}
        onBlur=${h}
      />
      ${v.mark==="what if"?l`<span class="was">${v.note}</span>`:null}
    </td>`},A=(c,$)=>{let m=c.cells.map((C,p)=>[t.columns[p].label,C.refusal]).filter(([,C])=>C);return m.length?l`<tr key=${`why ${$}`} class="why">
      <td colspan=${t.columns.length+(t.result?2:1)} id=${`${i}-${$}`}>
        ${m.map(([C,p])=>l`<p key=${C}>${C}: ${p}</p>`)}
      </td>
    </tr>`:null},b=c=>$=>{let v=$.target.value,m=`name ${t.id} ${c}`;e.act("cells",{id:t.names,row:c,column:0,to:[[v]]},{key:m,text:v})};return l`<div class="scroll sheet" role="group" aria-label=${t.label} ref=${n}>
    <table>
      <thead>
        <tr>
          <th scope="col">${t.names?"trial":""}</th>
          ${t.columns.map((c,$)=>l`<th key=${$} scope="col">${c.label}${c.unit?`, ${c.unit}`:""}</th>`)}
          ${t.result?l`<th scope="col" class="result">${t.result}</th>`:null}
        </tr>
      </thead>
      <tbody>
        ${u.map((c,$)=>[l`<tr key=${$}>
            <th scope="row">
              ${t.names?l`<input
                    type="text"
                    aria-label=${`Name of trial ${$+1}`}
                    value=${e.text(`name ${t.id} ${$}`,c.name)}
                    onInput=${b($)}
                    onBlur=${h}
                    autocomplete="off"
                    spellcheck=${!1}
                  />`:c.name}
            </th>
            ${c.cells.map((v,m)=>x($,m,v,c.name))}
            ${t.result?l`<td class=${c.refusal?"result refused":"result"}>
                  ${c.refusal||c.result}
                </td>`:null}
          </tr>`,A(c,$)])}
      </tbody>
    </table>
  </div>`}function k({blocks:t,link:e}){let n={};return(t||[]).map(s=>{let i=Ee[s.kind];if(!i)return null;n[s.kind]=(n[s.kind]||0)+1;let r=s.id||`${s.kind}${n[s.kind]}`;return l`<${i} key=${r} block=${s} link=${e} />`})}function ne({block:t}){return t.level===2?l`<h2>${t.text}</h2>`:l`<h3>${t.text}</h3>`}var ot={warning:"!",refusal:"!",diagnosis:"✓",trust:"⇔",good:"✓"};function se({block:t}){let e=ot[t.role],n=t.spoken||t.role==="status"?"status":void 0;if(e)return l`<p class=${`line ${t.role}`} role=${n}>
      <span class="sign" aria-hidden="true">${e}</span><span>${t.text}</span>
    </p>`;let s=t.role==="status"?"note":t.role;return l`<p class=${s} role=${n}>${t.text}</p>`}function re({block:t,link:e}){let n=T("field"),s=`set ${t.id}`,i=e.text(s,t.text),r=g=>{let f=g.target.value;e.act("set",{id:t.id,to:f},{key:s,text:f})},a=()=>e.act("left",{id:t.id}),u=g=>{g.key!=="Enter"||!t.enter||t.lines||(g.preventDefault(),e.act("press",{id:t.enter}))},d=t.refusal||t.note,_={id:n,"data-control":t.id,value:i,onInput:r,onBlur:a,onKeyDown:u,spellcheck:!1,autocomplete:"off","aria-invalid":t.refusal||t.refused?"true":void 0,"aria-describedby":d?`${n}-note`:void 0,"aria-label":t.bare?t.label:void 0,style:t.width?`width:${t.width+3}ch`:""},o=t.options&&t.options.length?`${n}-list`:void 0;return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    ${t.lines?l`<textarea rows=${t.lines} ...${_}></textarea>`:l`<input type="text" list=${o} ...${_} />`}
    ${o?l`<datalist id=${o}>
          ${t.options.map(([g,f])=>l`<option value=${g}>${f}</option>`)}
        </datalist>`:null}
    ${d?l`<span id=${`${n}-note`} class=${t.refusal?"refused":"hint"}>${d}</span>`:null}
  </div>`}function ie({block:t,link:e}){let n=T("choice"),s=`set ${t.id}`,i=e.text(s,t.value),r=a=>{let u=a.target.value;e.act("set",{id:t.id,to:u},{key:s,text:u})};return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    <select id=${n} data-control=${t.id} onChange=${r} aria-label=${t.bare?t.label:void 0}>
      ${t.options.map(([a,u])=>l`<option value=${a} selected=${a===i}>${u}</option>`)}
    </select>
  </div>`}function oe({block:t,link:e}){let n=`tick ${t.id}`,s=e.text(n,t.on),i=r=>{let a=r.target.checked;e.act("tick",{id:t.id,to:a},{key:n,text:a})};return l`<label class="tick"
    ><input type="checkbox" data-control=${t.id} checked=${s} onChange=${i} /> ${t.label}</label
  >`}function ae({block:t,link:e}){return l`<button
    type="button"
    class=${`button ${t.look}`}
    data-control=${t.id}
    disabled=${!t.enabled}
    aria-label=${t.spoken||void 0}
    title=${t.spoken||void 0}
    onClick=${()=>e.act("press",{id:t.id})}
  >
    ${t.label}
  </button>`}function le({block:t,link:e}){return l`<div class=${t.even?"row even":"row"}><${k} blocks=${t.blocks} link=${e} /></div>`}function ue({block:t,link:e}){let[n,s]=I(!1),i=T("chip");return l`<div class=${n?"chip open":"chip"}>
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
      ${n?l`<${k} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function ce({block:t,link:e}){return l`<div class="sentence">
    ${t.parts.map((n,s)=>n.kind==="words"?l`<span key=${s}>${n.text}</span>`:l`<${k} key=${n.id||s} blocks=${[n]} link=${e} />`)}
  </div>`}function de({block:t,link:e}){let[n,s]=I(!!t.opened),i=T("more");return l`<div class="details">
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
      ${n?l`<${k} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function Ot({block:t}){return l`<ul>
    ${t.items.map((e,n)=>l`<li key=${n}>${e}</li>`)}
  </ul>`}function Wt({block:t,link:e}){let n=s=>e.act("pick",{id:t.id,to:s});return l`<div class=${t.prose?"scroll prose":"scroll"} tabindex="0" role="group" aria-label=${t.caption||"table"}>
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
            ${s.map((r,a)=>a?l`<td key=${a}>${r}</td>`:l`<th key=${a} scope="row">
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
  </div>`}function pe({block:t,link:e}){return l`<section class=${`verdict ${t.look.replace(" ","-")}`} aria-label="Verdict">
    <p class="headline" role="status">${t.headline}</p>
    <${k} blocks=${t.blocks} link=${e} />
  </section>`}function fe({block:t}){return l`<ul class=${t.stale?"candidates stale":"candidates"} aria-label="Candidates">
    ${t.rows.map(e=>l`<li key=${e.name} class=${e.fits?"fits":"out"}>
        <span class="name">${e.name}</span>
        <span class="bar" aria-hidden="true"
          ><span style=${`width:${Math.max(100*e.share,e.share>0?.6:0)}%`}></span
        ></span>
        <span class="standing"
          >${[e.standing,e.p,e.yield].filter(Boolean).join(" · ")}</span
        >
      </li>`)}
  </ul>`}function _e({block:t,link:e}){let n=T("step"),s=`step ${t.id}`,i=Number(e.text(s,t.value)),r=u=>e.act("step",{id:t.id,to:u},{key:s,text:u}),a=t.words.length-1;return l`<div class="step">
    <label for=${n}>${t.label}</label>
    <input
      id=${n}
      data-control=${t.id}
      type="range"
      min="0"
      max=${a}
      step="1"
      value=${i}
      aria-valuetext=${t.words[i]}
      onInput=${u=>r(Number(u.target.value))}
      onBlur=${()=>e.act("left",{id:t.id})}
    />
    <output for=${n}>${t.words[i]}</output>
    ${t.own>=0&&i!==t.own?l`<button type="button" class="button quiet" onClick=${()=>r(t.own)}>
          back to ${t.words[t.own].replace(" (mine)","")}
        </button>`:null}
  </div>`}function he({block:t,link:e}){return l`<div class="progress">
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
  </div>`}function $e({block:t,link:e}){let n=T("file"),s=i=>{let r=i.target.files&&i.target.files[0];if(!r)return;let a=new FileReader;a.onload=()=>e.act("file",{id:t.id,name:r.name,base64:String(a.result).split(",")[1]||""}),a.readAsDataURL(r),i.target.value=""};return l`<div class="field">
    <label for=${n}>${t.label}</label>
    <input id=${n} type="file" accept=${t.accept} onChange=${s} />
  </div>`}function me({part:t}){return l`<p class="equation">
    ${t.sides.map((e,n)=>l`<span key=${n}>${n?"= ":""}${e}</span>`)}
    ${t.remark?l`<span class="hint">${t.remark}</span>`:null}
  </p>`}function ye({part:t}){let e=`data:image/svg+xml;charset=utf-8,${encodeURIComponent(t.svg)}`;return l`<figure class="drawing">
    <img src=${e} alt=${t.alt_text} />
    ${t.caption?l`<figcaption>${t.caption}</figcaption>`:null}
  </figure>`}var ve=40;function ge({part:t}){switch(t.kind){case"strong":return l`<p class="strong">${t.text}</p>`;case"subheading":return l`<h4>${t.text}</h4>`;case"list":return l`<${Ot} block=${t} />`;case"table":return l`<${Wt} block=${{...t,prose:t.rows.some(e=>e.some(n=>n.length>ve))}} />`;case"equation":return l`<${me} part=${t} />`;case"picture":return l`<${ye} part=${t} />`;case"field":return l`<p>${t.label}: ${t.value||"________________"}</p>`;default:return l`<p>${t.text}</p>`}}function xe({block:t}){return l`<article class="document">
    ${t.titled&&t.title?l`<h2>${t.title}</h2>`:null}
    ${t.opening.map((e,n)=>l`<p key=${n}>${e}</p>`)}
    ${t.sections.map((e,n)=>l`<section key=${n}>
        ${e.title?l`<h3>${e.title}</h3>`:null}
        ${e.parts.map((s,i)=>l`<${ge} key=${i} part=${s} />`)}
      </section>`)}
  </article>`}function we({block:t}){return l`<pre class="source" tabindex="0" role="region" aria-label=${t.label}>
${t.text}</pre
  >`}async function be(t){if(navigator.clipboard&&window.isSecureContext)return navigator.clipboard.writeText(t);let e=document.createElement("textarea");e.value=t,document.body.append(e),e.select();let n=document.execCommand("copy");if(e.remove(),!n)throw new Error("the browser refused")}function Ce({block:t}){let[e,n]=I("");return l`<div class="row">
    <button type="button" class="button" onClick=${()=>be(t.text).then(()=>n("Copied."),()=>n("The browser does not allow copying: select the text instead."))}>${t.label}</button>
    <span class="note" role="status">${e}</span>
  </div>`}var it=class extends H{componentDidMount(){let{block:e,link:n}=this.props,s=Se(e.place);s&&s!==e.text?n.act("set",{id:e.id,to:s}):e.text&&qt(e.place,e.text)}componentDidUpdate(){let{block:e}=this.props;e.text&&qt(e.place,e.text)}render(){return null}};function Se(t){try{return window.localStorage.getItem(t)||""}catch{return""}}function qt(t,e){try{window.localStorage.setItem(t,e)}catch{return}}var Ee={heading:ne,words:se,field:re,choice:ie,tick:oe,button:ae,row:le,chip:ue,sentence:ce,details:de,list:Ot,table:Wt,verdict:pe,candidates:fe,step:_e,progress:he,file:$e,document:xe,picture:Bt,sheet:Ft,source:we,copy:Ce,kept:it};var X=class{constructor(e){this.send=e,this.page=Math.random().toString(36).slice(2)+Date.now().toString(36),this.number=0,this.seen=0,this.queue=[],this.under=null,this.local=new Map,this.regions={},this.drawn={},this.focus="",this.layout={screen:"",places:[],tabs:[]},this.said={text:"",role:""},this.alive=!1,this.settled=!1,this.silent=!1,this.followers=[],this.onFile=()=>{}}act(e,n={},s={}){let i={page:this.page,number:++this.number,name:e,arguments:n},r=s.key??"",a=this.queue[this.queue.length-1];r&&a&&a.key===r?a.action=i:this.queue.push({action:i,key:r}),r&&"text"in s&&this.local.set(r,{text:s.text,number:i.number}),this.settled=!1,this.pump(),this.tell()}pump(){if(this.under||!this.queue.length)return;let{action:e}=this.queue.shift(),n=setTimeout(()=>{this.silent=!0,this.tell()},6e3);this.under={number:e.number,timer:n},this.send(e)}receive(e){if(!e||typeof e!="object"||!e.layout)return;let n=e.seen&&e.seen[this.page]||0;if(n>=this.seen){if(e.layout.screen!==this.layout.screen){let s=this.regions.head;this.regions=s?{head:s}:{},this.drawn={}}this.layout=e.layout,this.said=e.said,this.focus=e.focus||this.focus}if(e.layout.screen===this.layout.screen)for(let[s,i]of Object.entries(e.regions))n>=(this.drawn[s]||0)&&(this.regions[s]=i,this.drawn[s]=n);this.alive=!0,this.silent=!1,this.seen=Math.max(this.seen,n);for(let[s,i]of this.local)i.number<=this.seen&&this.local.delete(s);this.under&&this.seen>=this.under.number&&(clearTimeout(this.under.timer),this.under=null,this.pump()),this.settled=!!e.settled&&n===this.seen&&!this.under;for(let s of e.files||[])this.onFile(s);this.tell()}text(e,n){let s=this.local.get(e);return s?s.text:n}tell(){for(let e of this.followers)e()}};var at=class extends H{componentDidMount(){this.follow=()=>this.setState({}),this.props.link.followers.push(this.follow)}componentDidUpdate(){let{link:e}=this.props;if(!e.focus)return;let n=this.base.querySelector(`[data-control="${CSS.escape(e.focus)}"]`);n&&n.focus(),e.focus=""}componentWillUnmount(){let{followers:e}=this.props.link;e.splice(e.indexOf(this.follow),1)}render({link:e}){let{layout:n,regions:s,said:i}=e,r=_=>n.places.filter(([o])=>o===_).map(([,o])=>l`<div key=${o} class=${`region r-${o}`}>
            <${k} blocks=${s[o]} link=${e} />
          </div>`),a=_=>n.places.some(([o])=>o===_),u=a("left")&&a("right"),d=_=>()=>e.act("show",{id:_});return l`<div class=${e.settled?"page settled":"page"}>
      ${a("head")?l`<div class="top">${r("head")}</div>`:null}
      ${n.tabs.length>1?l`<nav aria-label="Screens">
            ${n.tabs.map(([_,o])=>l`<button
                key=${_}
                type="button"
                class=${_===n.screen?"tab shown":"tab"}
                aria-current=${_===n.screen?"page":void 0}
                onClick=${d(_)}
              >
                ${o}
              </button>`)}
          </nav>`:null}
      <div class="said" role="status" aria-live="polite">
        ${e.silent?l`<p class="line refusal">
              <span class="sign" aria-hidden="true">!</span
              ><span>Python does not answer. If it was stopped, run the cell again: what you typed was kept.</span>
            </p>`:null}
        ${i.text?l`<p class=${`line ${i.role}`}>
              <span class="sign" aria-hidden="true">${ot[i.role]||"✓"}</span
              ><span>${i.text}</span>
            </p>`:null}
      </div>
      <div class=${u?"both":"one"}>
        ${a("left")?l`<div class="left">${r("left")}</div>`:null}
        ${a("right")?l`<div class="right">${r("right")}</div>`:null}
        ${a("wide")?l`<div class="wide">${r("wide")}</div>`:null}
      </div>
    </div>`}};async function De(t){let e=Uint8Array.from(atob(t.base64),i=>i.charCodeAt(0)),n=new Blob([e],{type:t.type});t.name.endsWith(".png")&&t.type==="image/svg+xml"&&(n=await Pe(n));let s=document.createElement("a");s.href=URL.createObjectURL(n),s.download=t.name,document.body.append(s),s.click(),s.remove(),setTimeout(()=>URL.revokeObjectURL(s.href),1e4)}function Pe(t){return new Promise((e,n)=>{let s=new Image;s.onload=()=>{let i=document.createElement("canvas");i.width=2*s.width,i.height=2*s.height;let r=i.getContext("2d");if(!r)return n(new Error("no canvas"));r.drawImage(s,0,0,i.width,i.height),i.toBlob(a=>a?e(a):n(new Error("no picture")),"image/png"),URL.revokeObjectURL(s.src)},s.onerror=n,s.src=URL.createObjectURL(t)})}function jt(t,e){t.classList.add("stoichkit");let n=new X(e);return n.onFile=s=>{De(s)},st(l`<${at} link=${n} />`,t),n.act("ready"),{link:n,close:()=>{n.under&&clearTimeout(n.under.timer),st(null,t)}}}function Ae(t){for(let e of document.querySelectorAll(`[data-stoichkit-still="${CSS.escape(t)}"]`)){let n=e.closest(".jp-OutputArea-child")||e;n instanceof HTMLElement&&(n.style.display="none")}}var Ye={render({model:t,el:e}){e.setAttribute("data-lm-suppress-shortcuts","true"),e.addEventListener("keydown",i=>i.stopPropagation());let n=jt(e,i=>t.send(i)),s=i=>{n.link.receive(i),Ae(t.get("key"))};return t.on("msg:custom",s),()=>{t.off("msg:custom",s),n.close()}}};export{Ye as default};
