var K,v,gt,q,xt,ot,Wt,z={},wt=[],jt=/acit|ex(?:s|g|n|p|$)|rph|grid|ows|mnc|ntw|ine[ch]|zoo|^ord|itera/i;function H(t,e){for(var n in e)t[n]=e[n];return t}function bt(t){var e=t.parentNode;e&&e.removeChild(t)}function Ct(t,e,n){var s,r,i,o={};for(i in e)i=="key"?s=e[i]:i=="ref"?r=e[i]:o[i]=e[i];if(arguments.length>2&&(o.children=arguments.length>3?K.call(arguments,2):n),typeof t=="function"&&t.defaultProps!=null)for(i in t.defaultProps)o[i]===void 0&&(o[i]=t.defaultProps[i]);return W(t,o,s,r,null)}function W(t,e,n,s,r){var i={type:t,props:e,key:n,ref:s,__k:null,__:null,__b:0,__e:null,__d:void 0,__c:null,__h:null,constructor:void 0,__v:r??++gt};return v.vnode!=null&&v.vnode(i),i}function Z(t){return t.children}function N(t,e){this.props=t,this.context=e}function B(t,e){if(e==null)return t.__?B(t.__,t.__.__k.indexOf(t)+1):null;for(var n;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null)return n.__e;return typeof t.type=="function"?B(t):null}function St(t){var e,n;if((t=t.__)!=null&&t.__c!=null){for(t.__e=t.__c.base=null,e=0;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null){t.__e=t.__c.base=n.__e;break}return St(t)}}function lt(t){(!t.__d&&(t.__d=!0)&&q.push(t)&&!V.__r++||ot!==v.debounceRendering)&&((ot=v.debounceRendering)||xt)(V)}function V(){for(var t;V.__r=q.length;)t=q.sort(function(e,n){return e.__v.__b-n.__v.__b}),q=[],t.some(function(e){var n,s,r,i,o,u;e.__d&&(o=(i=(n=e).__v).__e,(u=n.__P)&&(s=[],(r=H({},i)).__v=i.__v+1,nt(u,i,r,n.__n,u.ownerSVGElement!==void 0,i.__h!=null?[o]:null,s,o??B(i),i.__h),At(s,i),i.__e!=o&&St(i)))})}function Et(t,e,n,s,r,i,o,u,f,p){var a,x,$,_,g,A,w,c=s&&s.__k||wt,h=c.length;for(n.__k=[],a=0;a<e.length;a++)if((_=n.__k[a]=(_=e[a])==null||typeof _=="boolean"?null:typeof _=="string"||typeof _=="number"||typeof _=="bigint"?W(null,_,null,null,_):Array.isArray(_)?W(Z,{children:_},null,null,null):_.__b>0?W(_.type,_.props,_.key,null,_.__v):_)!=null){if(_.__=n,_.__b=n.__b+1,($=c[a])===null||$&&_.key==$.key&&_.type===$.type)c[a]=void 0;else for(x=0;x<h;x++){if(($=c[x])&&_.key==$.key&&_.type===$.type){c[x]=void 0;break}$=null}nt(t,_,$=$||z,r,i,o,u,f,p),g=_.__e,(x=_.ref)&&$.ref!=x&&(w||(w=[]),$.ref&&w.push($.ref,null,_),w.push(x,_.__c||g,_)),g!=null?(A==null&&(A=g),typeof _.type=="function"&&_.__k!=null&&_.__k===$.__k?_.__d=f=Dt(_,f,t):f=Pt(t,_,$,c,g,f),p||n.type!=="option"?typeof n.type=="function"&&(n.__d=f):t.value=""):f&&$.__e==f&&f.parentNode!=t&&(f=B($))}for(n.__e=A,a=h;a--;)c[a]!=null&&(typeof n.type=="function"&&c[a].__e!=null&&c[a].__e==n.__d&&(n.__d=B(s,a+1)),Lt(c[a],c[a]));if(w)for(a=0;a<w.length;a++)Ut(w[a],w[++a],w[++a])}function Dt(t,e,n){var s,r;for(s=0;s<t.__k.length;s++)(r=t.__k[s])&&(r.__=t,e=typeof r.type=="function"?Dt(r,e,n):Pt(n,r,r,t.__k,r.__e,e));return e}function Pt(t,e,n,s,r,i){var o,u,f;if(e.__d!==void 0)o=e.__d,e.__d=void 0;else if(n==null||r!=i||r.parentNode==null)t:if(i==null||i.parentNode!==t)t.appendChild(r),o=null;else{for(u=i,f=0;(u=u.nextSibling)&&f<s.length;f+=2)if(u==r)break t;t.insertBefore(r,i),o=i}return o!==void 0?o:r.nextSibling}function ut(t,e,n){e[0]==="-"?t.setProperty(e,n):t[e]=n==null?"":typeof n!="number"||jt.test(e)?n:n+"px"}function O(t,e,n,s,r){var i;t:if(e==="style")if(typeof n=="string")t.style.cssText=n;else{if(typeof s=="string"&&(t.style.cssText=s=""),s)for(e in s)n&&e in n||ut(t.style,e,"");if(n)for(e in n)s&&n[e]===s[e]||ut(t.style,e,n[e])}else if(e[0]==="o"&&e[1]==="n")i=e!==(e=e.replace(/Capture$/,"")),e=e.toLowerCase()in t?e.toLowerCase().slice(2):e.slice(2),t.l||(t.l={}),t.l[e+i]=n,n?s||t.addEventListener(e,i?dt:ct,i):t.removeEventListener(e,i?dt:ct,i);else if(e!=="dangerouslySetInnerHTML"){if(r)e=e.replace(/xlink[H:h]/,"h").replace(/sName$/,"s");else if(e!=="href"&&e!=="list"&&e!=="form"&&e!=="tabIndex"&&e!=="download"&&e in t)try{t[e]=n??"";break t}catch{}typeof n=="function"||(n!=null&&(n!==!1||e[0]==="a"&&e[1]==="r")?t.setAttribute(e,n):t.removeAttribute(e))}}function ct(t){this.l[t.type+!1](v.event?v.event(t):t)}function dt(t){this.l[t.type+!0](v.event?v.event(t):t)}function nt(t,e,n,s,r,i,o,u,f){var p,a,x,$,_,g,A,w,c,h,y,m=e.type;if(e.constructor!==void 0)return null;n.__h!=null&&(f=n.__h,u=e.__e=n.__e,e.__h=null,i=[u]),(p=v.__b)&&p(e);try{t:if(typeof m=="function"){if(w=e.props,c=(p=m.contextType)&&s[p.__c],h=p?c?c.props.value:p.__:s,n.__c?A=(a=e.__c=n.__c).__=a.__E:("prototype"in m&&m.prototype.render?e.__c=a=new m(w,h):(e.__c=a=new N(w,h),a.constructor=m,a.render=Vt),c&&c.sub(a),a.props=w,a.state||(a.state={}),a.context=h,a.__n=s,x=a.__d=!0,a.__h=[]),a.__s==null&&(a.__s=a.state),m.getDerivedStateFromProps!=null&&(a.__s==a.state&&(a.__s=H({},a.__s)),H(a.__s,m.getDerivedStateFromProps(w,a.__s))),$=a.props,_=a.state,x)m.getDerivedStateFromProps==null&&a.componentWillMount!=null&&a.componentWillMount(),a.componentDidMount!=null&&a.__h.push(a.componentDidMount);else{if(m.getDerivedStateFromProps==null&&w!==$&&a.componentWillReceiveProps!=null&&a.componentWillReceiveProps(w,h),!a.__e&&a.shouldComponentUpdate!=null&&a.shouldComponentUpdate(w,a.__s,h)===!1||e.__v===n.__v){a.props=w,a.state=a.__s,e.__v!==n.__v&&(a.__d=!1),a.__v=e,e.__e=n.__e,e.__k=n.__k,e.__k.forEach(function(C){C&&(C.__=e)}),a.__h.length&&o.push(a);break t}a.componentWillUpdate!=null&&a.componentWillUpdate(w,a.__s,h),a.componentDidUpdate!=null&&a.__h.push(function(){a.componentDidUpdate($,_,g)})}a.context=h,a.props=w,a.state=a.__s,(p=v.__r)&&p(e),a.__d=!1,a.__v=e,a.__P=t,p=a.render(a.props,a.state,a.context),a.state=a.__s,a.getChildContext!=null&&(s=H(H({},s),a.getChildContext())),x||a.getSnapshotBeforeUpdate==null||(g=a.getSnapshotBeforeUpdate($,_)),y=p!=null&&p.type===Z&&p.key==null?p.props.children:p,Et(t,Array.isArray(y)?y:[y],e,n,s,r,i,o,u,f),a.base=e.__e,e.__h=null,a.__h.length&&o.push(a),A&&(a.__E=a.__=null),a.__e=!1}else i==null&&e.__v===n.__v?(e.__k=n.__k,e.__e=n.__e):e.__e=zt(n.__e,e,n,s,r,i,o,f);(p=v.diffed)&&p(e)}catch(C){e.__v=null,(f||i!=null)&&(e.__e=u,e.__h=!!f,i[i.indexOf(u)]=null),v.__e(C,e,n)}}function At(t,e){v.__c&&v.__c(e,t),t.some(function(n){try{t=n.__h,n.__h=[],t.some(function(s){s.call(n)})}catch(s){v.__e(s,n.__v)}})}function zt(t,e,n,s,r,i,o,u){var f,p,a,x=n.props,$=e.props,_=e.type,g=0;if(_==="svg"&&(r=!0),i!=null){for(;g<i.length;g++)if((f=i[g])&&(f===t||(_?f.localName==_:f.nodeType==3))){t=f,i[g]=null;break}}if(t==null){if(_===null)return document.createTextNode($);t=r?document.createElementNS("http://www.w3.org/2000/svg",_):document.createElement(_,$.is&&$),i=null,u=!1}if(_===null)x===$||u&&t.data===$||(t.data=$);else{if(i=i&&K.call(t.childNodes),p=(x=n.props||z).dangerouslySetInnerHTML,a=$.dangerouslySetInnerHTML,!u){if(i!=null)for(x={},g=0;g<t.attributes.length;g++)x[t.attributes[g].name]=t.attributes[g].value;(a||p)&&(a&&(p&&a.__html==p.__html||a.__html===t.innerHTML)||(t.innerHTML=a&&a.__html||""))}if((function(A,w,c,h,y){var m;for(m in c)m==="children"||m==="key"||m in w||O(A,m,null,c[m],h);for(m in w)y&&typeof w[m]!="function"||m==="children"||m==="key"||m==="value"||m==="checked"||c[m]===w[m]||O(A,m,w[m],c[m],h)})(t,$,x,r,u),a)e.__k=[];else if(g=e.props.children,Et(t,Array.isArray(g)?g:[g],e,n,s,r&&_!=="foreignObject",i,o,i?i[0]:n.__k&&B(n,0),u),i!=null)for(g=i.length;g--;)i[g]!=null&&bt(i[g]);u||("value"in $&&(g=$.value)!==void 0&&(g!==t.value||_==="progress"&&!g)&&O(t,"value",g,x.value,!1),"checked"in $&&(g=$.checked)!==void 0&&g!==t.checked&&O(t,"checked",g,x.checked,!1))}return t}function Ut(t,e,n){try{typeof t=="function"?t(e):t.current=e}catch(s){v.__e(s,n)}}function Lt(t,e,n){var s,r;if(v.unmount&&v.unmount(t),(s=t.ref)&&(s.current&&s.current!==t.__e||Ut(s,null,e)),(s=t.__c)!=null){if(s.componentWillUnmount)try{s.componentWillUnmount()}catch(i){v.__e(i,e)}s.base=s.__P=null}if(s=t.__k)for(r=0;r<s.length;r++)s[r]&&Lt(s[r],e,typeof t.type!="function");n||t.__e==null||bt(t.__e),t.__e=t.__d=void 0}function Vt(t,e,n){return this.constructor(t,n)}function st(t,e,n){var s,r,i;v.__&&v.__(t,e),r=(s=typeof n=="function")?null:n&&n.__k||e.__k,i=[],nt(e,t=(!s&&n||e).__k=Ct(Z,null,[t]),r||z,z,e.ownerSVGElement!==void 0,!s&&n?[n]:r?null:e.firstChild?K.call(e.childNodes):null,i,!s&&n?n:r?r.__e:e.firstChild,s),At(i,t)}K=wt.slice,v={__e:function(t,e){for(var n,s,r;e=e.__;)if((n=e.__c)&&!n.__)try{if((s=n.constructor)&&s.getDerivedStateFromError!=null&&(n.setState(s.getDerivedStateFromError(t)),r=n.__d),n.componentDidCatch!=null&&(n.componentDidCatch(t),r=n.__d),r)return n.__E=n}catch(i){t=i}throw t}},gt=0,N.prototype.setState=function(t,e){var n;n=this.__s!=null&&this.__s!==this.state?this.__s:this.__s=H({},this.state),typeof t=="function"&&(t=t(H({},n),this.props)),t&&H(n,t),t!=null&&this.__v&&(e&&this.__h.push(e),lt(this))},N.prototype.forceUpdate=function(t){this.__v&&(this.__e=!0,t&&this.__h.push(t),lt(this))},N.prototype.render=Z,q=[],xt=typeof Promise=="function"?Promise.prototype.then.bind(Promise.resolve()):setTimeout,V.__r=0,Wt=0;var I,U,ft,G=0,tt=[],pt=v.__b,_t=v.__r,ht=v.diffed,$t=v.__c,mt=v.unmount;function X(t,e){v.__h&&v.__h(U,t,G||e),G=0;var n=U.__H||(U.__H={__:[],__h:[]});return t>=n.__.length&&n.__.push({}),n.__[t]}function F(t){return G=1,Gt(Tt,t)}function Gt(t,e,n){var s=X(I++,2);return s.t=t,s.__c||(s.__=[n?n(e):Tt(void 0,e),function(r){var i=s.t(s.__[0],r);s.__[0]!==i&&(s.__=[i,s.__[1]],s.__c.setState({}))}],s.__c=U),s.__}function Mt(t,e){var n=X(I++,3);!v.__s&&it(n.__H,e)&&(n.__=t,n.__H=e,U.__H.__h.push(n))}function Ht(t,e){var n=X(I++,4);!v.__s&&it(n.__H,e)&&(n.__=t,n.__H=e,U.__h.push(n))}function T(t){return G=5,Kt(function(){return{current:t}},[])}function Kt(t,e){var n=X(I++,7);return it(n.__H,e)&&(n.__=t(),n.__H=e,n.__h=t),n.__}function Zt(){tt.forEach(function(t){if(t.__P)try{t.__H.__h.forEach(j),t.__H.__h.forEach(et),t.__H.__h=[]}catch(e){t.__H.__h=[],v.__e(e,t.__v)}}),tt=[]}v.__b=function(t){U=null,pt&&pt(t)},v.__r=function(t){_t&&_t(t),I=0;var e=(U=t.__c).__H;e&&(e.__h.forEach(j),e.__h.forEach(et),e.__h=[])},v.diffed=function(t){ht&&ht(t);var e=t.__c;e&&e.__H&&e.__H.__h.length&&(tt.push(e)!==1&&ft===v.requestAnimationFrame||((ft=v.requestAnimationFrame)||function(n){var s,r=function(){clearTimeout(i),vt&&cancelAnimationFrame(s),setTimeout(n)},i=setTimeout(r,100);vt&&(s=requestAnimationFrame(r))})(Zt)),U=void 0},v.__c=function(t,e){e.some(function(n){try{n.__h.forEach(j),n.__h=n.__h.filter(function(s){return!s.__||et(s)})}catch(s){e.some(function(r){r.__h&&(r.__h=[])}),e=[],v.__e(s,n.__v)}}),$t&&$t(t,e)},v.unmount=function(t){mt&&mt(t);var e=t.__c;if(e&&e.__H)try{e.__H.__.forEach(j)}catch(n){v.__e(n,e.__v)}};var vt=typeof requestAnimationFrame=="function";function j(t){var e=U;typeof t.__c=="function"&&t.__c(),U=e}function et(t){var e=U;t.__c=t.__(),U=e}function it(t,e){return!t||t.length!==e.length||e.some(function(n,s){return n!==t[s]})}function Tt(t,e){return typeof e=="function"?e(t):e}var Rt=function(t,e,n,s){var r;e[0]=0;for(var i=1;i<e.length;i++){var o=e[i++],u=e[i]?(e[0]|=o?1:2,n[e[i++]]):e[++i];o===3?s[0]=u:o===4?s[1]=Object.assign(s[1]||{},u):o===5?(s[1]=s[1]||{})[e[++i]]=u:o===6?s[1][e[++i]]+=u+"":o?(r=t.apply(u,Rt(t,u,n,["",null])),s.push(r),u[0]?e[0]|=2:(e[i-2]=0,e[i]=r)):s.push(u)}return s},yt=new Map,l=function(t){var e=yt.get(this);return e||(e=new Map,yt.set(this,e)),(e=Rt(this,e.get(t)||(e.set(t,e=(function(n){for(var s,r,i=1,o="",u="",f=[0],p=function($){i===1&&($||(o=o.replace(/^\s*\n\s*|\s*\n\s*$/g,"")))?f.push(0,$,o):i===3&&($||o)?(f.push(3,$,o),i=2):i===2&&o==="..."&&$?f.push(4,$,0):i===2&&o&&!$?f.push(5,0,!0,o):i>=5&&((o||!$&&i===5)&&(f.push(i,0,o,r),i=6),$&&(f.push(i,$,0,r),i=6)),o=""},a=0;a<n.length;a++){a&&(i===1&&p(),p(a));for(var x=0;x<n[a].length;x++)s=n[a][x],i===1?s==="<"?(p(),f=[f],i=3):o+=s:i===4?o==="--"&&s===">"?(i=1,o=""):o=s+o[0]:u?s===u?u="":o+=s:s==='"'||s==="'"?u=s:s===">"?(p(),i=1):i&&(s==="="?(i=5,r=o,o=""):s==="/"&&(i<5||n[a][x+1]===">")?(p(),i===3&&(f=f[0]),i=f,(f=f[0]).push(2,0,i),i=0):s===" "||s==="	"||s===`
`||s==="\r"?(p(),i=2):o+=s),i===3&&o==="!--"&&(i=4,f=f[0])}return p(),f})(t)),e),arguments,[])).length>1?e:e[0]}.bind(Ct);var Xt=0;function L(t){let e=T("");return e.current||(e.current=`stoichkit-${t}-${++Xt}`),e.current}var R=.5522847498307936,kt=t=>/^[a-z]+$/.test(t)?`var(--pic-${t})`:t;function Nt(t){let e=[];for(let n=0;n<t.length;n+=2)e.push(`${t[n]},${t[n+1]}`);return e.join(" ")}function Yt([t,e,n,s,r,i]){let u=[[1,0],[1,R],[R,1],[0,1],[-R,1],[-1,R],[-1,0],[-1,-R],[-R,-1],[0,-1],[R,-1],[1,-R],[1,0]].map(([f,p])=>`${(t+f*n+p*r).toFixed(2)} ${(e+f*s+p*i).toFixed(2)}`);return`M${u[0]} C${u.slice(1,4).join(" ")} C${u.slice(4,7).join(" ")} C${u.slice(7,10).join(" ")} C${u.slice(10,13).join(" ")}Z`}function Jt({item:t}){let e=kt(t.ink);switch(t.is){case"line":return l`<polyline points=${Nt(t.at)} style=${`fill:none;stroke:${e}`} stroke-width=${t.width} stroke-dasharray=${t.dashes?t.dashes.join(" "):void 0} />`;case"area":return l`<polygon points=${Nt(t.at)} style=${`fill:${e};fill-opacity:${t.opacity};${t.edge?`stroke:${kt(t.edge)};stroke-width:0.9`:""}`} />`;case"ellipse":return l`<path d=${Yt(t.at)} style=${`fill:${t.opacity?e:"none"};fill-opacity:${t.opacity};stroke:${e}`} stroke-width=${t.width} />`;case"circle":return l`<circle cx=${t.at[0]} cy=${t.at[1]} r=${t.size} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`;case"diamond":{let[n,s]=t.at,r=t.size;return l`<path d=${`M${n} ${s-r}L${n+r} ${s}L${n} ${s+r}L${n-r} ${s}Z`} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`}case"words":{let[n,s]=t.at;return l`<text x=${n} y=${s} font-size=${t.size} text-anchor=${t.anchor==="start"?void 0:t.anchor} font-weight=${t.bold?"bold":void 0} style=${`fill:${e}`} transform=${t.angle?`rotate(${t.angle} ${n} ${s})`:void 0}>${t.text}</text>`}default:return null}}function Bt({block:t,link:e}){let n=T(null),s=T(null),[r,i]=F(""),[o,u]=F(null),[f,p,a,x]=o&&o.limits||t.limits,{width:$,height:_}=t,g=([d,b],[S,D,P,E]=t.limits)=>[(d-S)/(D-S)*$,_-(b-P)/(E-P)*_],A=d=>`move ${t.id} ${d.name}`;Mt(()=>{if(!t.sizes||!n.current||typeof ResizeObserver>"u")return;let d=0,b=0,S=()=>{let P=Math.round(n.current?n.current.clientWidth:0);P<100||Math.abs(P-b)<9||(b=P,e.act("pick",{id:`${t.id}:width`,to:P},{key:`width ${t.id}`}))},D=new ResizeObserver(()=>{clearTimeout(d),d=setTimeout(S,120)});return D.observe(n.current),()=>D.disconnect()},[t.id]);let w=d=>{let b=s.current.getBoundingClientRect(),S=f+(d.clientX-b.left)/b.width*(p-f),D=x-(d.clientY-b.top)/b.height*(x-a);return[S,D]},c=(d,b,S)=>e.act("move",{id:`${t.id}:move`,spot:d.name,x:b,y:S},{key:A(d),text:[b,S]}),h=d=>b=>{!d.drag||!t.moves||(b.preventDefault(),b.currentTarget.focus(),b.currentTarget.setPointerCapture(b.pointerId),u({name:d.name,at:[d.x,d.y],limits:t.limits}))},y=d=>b=>{if(!o||!o.limits||o.name!==d.name)return;let[S,D]=w(b);u({...o,at:[S,D]}),c(d,S,D)},m=()=>{o&&e.act("left",{id:t.id}),u(null)},C=d=>b=>{if(!d.drag||!t.moves)return;let S=b.shiftKey?20:100,D=(p-f)/S,P=(x-a)/S,E={ArrowLeft:[-D,0],ArrowRight:[D,0],ArrowUp:[0,P],ArrowDown:[0,-P]}[b.key];if(!E)return;b.preventDefault();let[M,J]=o&&o.name===d.name?o.at:[d.x,d.y],Q=[M+E[0],J+E[1]];u({name:d.name,at:Q,limits:null}),c(d,Q[0],Q[1])};return l`<figure class=${t.stale?"picture stale":"picture"} ref=${n}>
    <svg ref=${s} viewBox=${`0 0 ${$} ${_}`} style=${`width:${Math.round($*1.5)}px`} role="group" aria-label=${t.title}>
      <g aria-hidden="true">${t.items.map((d,b)=>l`<${Jt} key=${b} item=${d} />`)}</g>
      ${t.spots.map((d,b)=>{let S=o&&o.name===d.name,D=e.text(A(d),[d.x,d.y]),[P,E]=S?g(o.at,o.limits||t.limits):g(D),M=d.drag&&t.moves?`${d.words}. Arrow keys move it, as a what if`:d.words;return l`<g key=${b} class=${S?"spot moving":"spot"} tabindex="0" role=${d.drag&&t.moves?"button":"img"} aria-label=${M}
          onPointerDown=${h(d)} onPointerMove=${y(d)} onPointerUp=${m} onPointerCancel=${m}
          onKeyDown=${C(d)} onMouseEnter=${()=>i(d.words)} onMouseLeave=${()=>i("")}
          onFocus=${()=>i(d.words)} onBlur=${()=>{i(""),u(null),e.act("left",{id:t.id})}}>
          <circle cx=${P} cy=${E} r="9" class="target" />
          ${S?l`<circle cx=${P} cy=${E} r="4" class="moved" />`:null}
        </g>`})}
    </svg>
    <figcaption>
      <span class="pointed">${r||(t.moves?"Point at a trial to see its amounts; drag it, or move it with the arrow keys, to ask what if.":"")}</span>
      ${t.saves?l`<span class="saves"
            ><button type="button" class="button quiet" onClick=${()=>e.act("set",{id:`${t.id}:save`,to:"svg"})}>Save SVG</button
            ><button type="button" class="button quiet" onClick=${()=>e.act("set",{id:`${t.id}:save`,to:"png"})}>Save PNG</button></span
          >`:null}
      <details class="described"><summary>The picture in words</summary><p>${t.alt}</p></details>
    </figcaption>
  </figure>`}function Qt(t){return t.replace(/\r\n?/g,`
`).replace(/\n+$/,"").split(`
`).map(n=>n.split("	"))}function Ft({block:t,link:e}){let n=T(null),s=T(null),r=L("sheet"),i=`grow ${t.id}`,o=Number(e.text(i,0))-t.rows.length,u=[...t.rows,...Array.from({length:Math.max(o,0)},()=>({name:"",cells:t.columns.map(()=>({text:"",refusal:"",mark:"",note:"",lines:0})),result:"",refusal:""}))],f=(c,h)=>n.current&&n.current.querySelector(`[data-at="${c}:${h}"]`),p=(c,h)=>{let y=f(c,h);return y?(y.focus(),y.select&&y.select(),!0):!1};Ht(()=>{s.current&&p(...s.current)&&(s.current=null)});let a=(c,h)=>y=>{let m=y.target.value,C=`cell ${t.id} ${c} ${h}`;e.act("cells",{id:t.id,row:c,column:h,to:[[m]]},{key:C,text:m})},x=(c,h)=>y=>{let m=y.clipboardData&&y.clipboardData.getData("text/plain"),C=m?Qt(m):[];C.length<2&&(!C[0]||C[0].length<2)||(y.preventDefault(),e.act("cells",{id:t.id,row:c,column:h,to:C}))},$=(c,h,y)=>m=>{let{key:C,target:d}=m,b=d.selectionStart===0&&d.selectionEnd===0,S=d.value.length,D=d.selectionStart===S&&d.selectionEnd===S,P=d.selectionStart===0&&d.selectionEnd===S,E=null;if(C==="Enter"&&!(y&&m.altKey)?E=[c+(m.shiftKey?-1:1),h]:C==="ArrowDown"?E=[c+1,h]:C==="ArrowUp"?E=[c-1,h]:C==="ArrowLeft"&&(b||P)?E=[c,h-1]:C==="ArrowRight"&&(D||P)&&(E=[c,h+1]),!E||(m.preventDefault(),p(E[0],E[1])))return;let M=u.length;if(C!=="Enter"||E[0]<M||!t.grows)return;s.current=[M,0];let J={id:t.id,row:M,column:0,to:[[""]]};e.act("cells",J,{key:i,text:M+1})},_=()=>e.act("left",{id:t.id}),g=(c,h,y,m)=>{let C=`${m}, ${t.columns[h].label}`,d=e.text(`cell ${t.id} ${c} ${h}`,y.text),b=y.refusal||y.note;return l`<td key=${h} class=${y.refusal?"refused":y.mark.replace(" ","-")}>
      <input
        type="text"
        data-at=${`${c}:${h}`}
        data-control=${`${t.id} ${c} ${h}`}
        value=${d}
        style=${`min-width:${Math.min(String(d).length,30)+3}ch`}
        aria-label=${y.mark?`${C}, ${y.mark}`:C}
        aria-invalid=${y.refusal?"true":void 0}
        aria-describedby=${y.refusal?`${r}-${c}`:void 0}
        title=${b||void 0}
        inputmode="decimal"
        autocomplete="off"
        spellcheck=${!1}
        onInput=${a(c,h)}
        onPaste=${x(c,h)}
        onKeyDown=${$(c,h,y.lines)}
        onBlur=${_}
      />
      ${y.mark==="what if"?l`<span class="was">${y.note}</span>`:null}
    </td>`},A=(c,h)=>{let m=c.cells.map((C,d)=>[t.columns[d].label,C.refusal]).filter(([,C])=>C);return m.length?l`<tr key=${`why ${h}`} class="why">
      <td colspan=${t.columns.length+(t.result?2:1)} id=${`${r}-${h}`}>
        ${m.map(([C,d])=>l`<p key=${C}>${C}: ${d}</p>`)}
      </td>
    </tr>`:null},w=c=>h=>{let y=h.target.value,m=`name ${t.id} ${c}`;e.act("cells",{id:t.names,row:c,column:0,to:[[y]]},{key:m,text:y})};return l`<div class="scroll sheet" role="group" aria-label=${t.label} ref=${n}>
    <table>
      <thead>
        <tr>
          <th scope="col">${t.names?"trial":""}</th>
          ${t.columns.map((c,h)=>l`<th key=${h} scope="col">${c.label}${c.unit?`, ${c.unit}`:""}</th>`)}
          ${t.result?l`<th scope="col" class="result">${t.result}</th>`:null}
        </tr>
      </thead>
      <tbody>
        ${u.map((c,h)=>[l`<tr key=${h}>
            <th scope="row">
              ${t.names?l`<input
                    type="text"
                    aria-label=${`Name of trial ${h+1}`}
                    value=${e.text(`name ${t.id} ${h}`,c.name)}
                    onInput=${w(h)}
                    onBlur=${_}
                    autocomplete="off"
                    spellcheck=${!1}
                  />`:c.name}
            </th>
            ${c.cells.map((y,m)=>g(h,m,y,c.name))}
            ${t.result?l`<td class=${c.refusal?"result refused":"result"}>
                  ${c.refusal||c.result}
                </td>`:null}
          </tr>`,A(c,h)])}
      </tbody>
    </table>
  </div>`}function k({blocks:t,link:e}){let n={};return(t||[]).map(s=>{let r=ye[s.kind];if(!r)return null;n[s.kind]=(n[s.kind]||0)+1;let i=s.id||`${s.kind}${n[s.kind]}`;return l`<${r} key=${i} block=${s} link=${e} />`})}function te({block:t}){return t.level===2?l`<h2>${t.text}</h2>`:l`<h3>${t.text}</h3>`}var rt={warning:"!",refusal:"!",diagnosis:"✓",trust:"⇔",good:"✓"};function ee({block:t}){let e=rt[t.role];return e?l`<p class=${`line ${t.role}`}>
      <span class="sign" aria-hidden="true">${e}</span><span>${t.text}</span>
    </p>`:t.role==="status"?l`<p class="note" role="status">${t.text}</p>`:l`<p class=${t.role}>${t.text}</p>`}function ne({block:t,link:e}){let n=L("field"),s=`set ${t.id}`,r=e.text(s,t.text),i=a=>{let x=a.target.value;e.act("set",{id:t.id,to:x},{key:s,text:x})},o=()=>e.act("left",{id:t.id}),u=t.refusal||t.note,f={id:n,"data-control":t.id,value:r,onInput:i,onBlur:o,spellcheck:!1,autocomplete:"off","aria-invalid":t.refusal||t.refused?"true":void 0,"aria-describedby":u?`${n}-note`:void 0,"aria-label":t.bare?t.label:void 0,style:t.width?`width:${t.width+3}ch`:""},p=t.options&&t.options.length?`${n}-list`:void 0;return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    ${t.lines?l`<textarea rows=${t.lines} ...${f}></textarea>`:l`<input type="text" list=${p} ...${f} />`}
    ${p?l`<datalist id=${p}>
          ${t.options.map(([a,x])=>l`<option value=${a}>${x}</option>`)}
        </datalist>`:null}
    ${u?l`<span id=${`${n}-note`} class=${t.refusal?"refused":"hint"}>${u}</span>`:null}
  </div>`}function se({block:t,link:e}){let n=L("choice"),s=`set ${t.id}`,r=e.text(s,t.value),i=o=>{let u=o.target.value;e.act("set",{id:t.id,to:u},{key:s,text:u})};return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    <select id=${n} data-control=${t.id} onChange=${i} aria-label=${t.bare?t.label:void 0}>
      ${t.options.map(([o,u])=>l`<option value=${o} selected=${o===r}>${u}</option>`)}
    </select>
  </div>`}function ie({block:t,link:e}){let n=`tick ${t.id}`,s=e.text(n,t.on),r=i=>{let o=i.target.checked;e.act("tick",{id:t.id,to:o},{key:n,text:o})};return l`<label class="tick"
    ><input type="checkbox" data-control=${t.id} checked=${s} onChange=${r} /> ${t.label}</label
  >`}function re({block:t,link:e}){return l`<button
    type="button"
    class=${`button ${t.look}`}
    data-control=${t.id}
    disabled=${!t.enabled}
    aria-label=${t.spoken||void 0}
    title=${t.spoken||void 0}
    onClick=${()=>e.act("press",{id:t.id})}
  >
    ${t.label}
  </button>`}function ae({block:t,link:e}){return l`<div class="row"><${k} blocks=${t.blocks} link=${e} /></div>`}function oe({block:t,link:e}){let[n,s]=F(!1),r=L("chip");return l`<div class=${n?"chip open":"chip"}>
    <button
      type="button"
      class=${t.refused?"refused":""}
      aria-expanded=${n?"true":"false"}
      aria-controls=${r}
      onClick=${()=>s(!n)}
    >
      <span class="chip-label">${t.label}</span> ${t.text}
    </button>
    <div id=${r} class="chip-body" hidden=${!n}>
      ${n?l`<${k} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function le({block:t,link:e}){return l`<div class="sentence">
    ${t.parts.map((n,s)=>n.kind==="words"?l`<span key=${s}>${n.text}</span>`:l`<${k} key=${n.id||s} blocks=${[n]} link=${e} />`)}
  </div>`}function ue({block:t,link:e}){let[n,s]=F(!!t.opened),r=L("more");return l`<div class="details">
    <button
      type="button"
      class="summary"
      aria-expanded=${n?"true":"false"}
      aria-controls=${r}
      onClick=${()=>s(!n)}
    >
      <span aria-hidden="true">${n?"−":"+"}</span> ${t.summary}
    </button>
    <div id=${r} hidden=${!n}>
      ${n?l`<${k} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function qt({block:t}){return l`<ul>
    ${t.items.map((e,n)=>l`<li key=${n}>${e}</li>`)}
  </ul>`}function It({block:t,link:e}){let n=s=>e.act("pick",{id:t.id,to:s});return l`<div class="scroll" tabindex="0" role="group" aria-label=${t.caption||"table"}>
    <table>
      ${t.caption?l`<caption>${t.caption}</caption>`:null}
      <thead>
        <tr>
          ${t.header.map((s,r)=>l`<th key=${r} scope="col">${s}</th>`)}
        </tr>
      </thead>
      <tbody>
        ${t.rows.map((s,r)=>l`<tr
            key=${r}
            class=${`${(t.looks||[])[r]||""} ${t.selected===r?"selected":""}`}
          >
            ${s.map((i,o)=>o?l`<td key=${o}>${i}</td>`:l`<th key=${o} scope="row">
                    ${t.id?l`<button
                          type="button"
                          class="button quiet"
                          aria-pressed=${t.selected===r?"true":"false"}
                          onClick=${()=>n(r)}
                        >
                          ${i}
                        </button>`:i}
                  </th>`)}
          </tr>`)}
      </tbody>
    </table>
  </div>`}function ce({block:t,link:e}){return l`<section class=${`verdict ${t.look.replace(" ","-")}`} aria-label="Verdict">
    <p class="headline" role="status">${t.headline}</p>
    <${k} blocks=${t.blocks} link=${e} />
  </section>`}function de({block:t}){return l`<ul class=${t.stale?"candidates stale":"candidates"} aria-label="Candidates">
    ${t.rows.map(e=>l`<li key=${e.name} class=${e.fits?"fits":"out"}>
        <span class="name">${e.name}</span>
        <span class="bar" aria-hidden="true"
          ><span style=${`width:${Math.max(100*e.share,e.share>0?.6:0)}%`}></span
        ></span>
        <span class="standing"
          >${[e.standing,e.p,e.yield].filter(Boolean).join(" · ")}</span
        >
      </li>`)}
  </ul>`}function fe({block:t,link:e}){let n=L("step"),s=`step ${t.id}`,r=Number(e.text(s,t.value)),i=u=>e.act("step",{id:t.id,to:u},{key:s,text:u}),o=t.words.length-1;return l`<div class="step">
    <label for=${n}>${t.label}</label>
    <input
      id=${n}
      data-control=${t.id}
      type="range"
      min="0"
      max=${o}
      step="1"
      value=${r}
      aria-valuetext=${t.words[r]}
      onInput=${u=>i(Number(u.target.value))}
      onBlur=${()=>e.act("left",{id:t.id})}
    />
    <output for=${n}>${t.words[r]}</output>
    ${t.own>=0&&r!==t.own?l`<button type="button" class="button quiet" onClick=${()=>i(t.own)}>
          back to ${t.words[t.own].replace(" (mine)","")}
        </button>`:null}
  </div>`}function pe({block:t,link:e}){return l`<div class="progress">
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
  </div>`}function _e({block:t,link:e}){let n=L("file"),s=r=>{let i=r.target.files&&r.target.files[0];if(!i)return;let o=new FileReader;o.onload=()=>e.act("file",{id:t.id,name:i.name,base64:String(o.result).split(",")[1]||""}),o.readAsDataURL(i),r.target.value=""};return l`<div class="field">
    <label for=${n}>${t.label}</label>
    <input id=${n} type="file" accept=${t.accept} onChange=${s} />
  </div>`}function he({part:t}){return l`<p class="equation">
    ${t.sides.map((e,n)=>l`<span key=${n}>${n?"= ":""}${e}</span>`)}
    ${t.remark?l`<span class="hint">${t.remark}</span>`:null}
  </p>`}function $e({part:t}){let e=`data:image/svg+xml;charset=utf-8,${encodeURIComponent(t.svg)}`;return l`<figure class="drawing">
    <img src=${e} alt=${t.alt_text} />
    ${t.caption?l`<figcaption>${t.caption}</figcaption>`:null}
  </figure>`}function me({part:t}){switch(t.kind){case"strong":return l`<p class="strong">${t.text}</p>`;case"subheading":return l`<h4>${t.text}</h4>`;case"list":return l`<${qt} block=${t} />`;case"table":return l`<${It} block=${t} />`;case"equation":return l`<${he} part=${t} />`;case"picture":return l`<${$e} part=${t} />`;default:return l`<p>${t.text}</p>`}}function ve({block:t}){return l`<article class="document">
    ${t.titled&&t.title?l`<h2>${t.title}</h2>`:null}
    ${t.opening.map((e,n)=>l`<p key=${n}>${e}</p>`)}
    ${t.sections.map((e,n)=>l`<section key=${n}>
        ${e.title?l`<h3>${e.title}</h3>`:null}
        ${e.parts.map((s,r)=>l`<${me} key=${r} part=${s} />`)}
      </section>`)}
  </article>`}var ye={heading:te,words:ee,field:ne,choice:se,tick:ie,button:re,row:ae,chip:oe,sentence:le,details:ue,list:qt,table:It,verdict:ce,candidates:de,step:fe,progress:pe,file:_e,document:ve,picture:Bt,sheet:Ft};var Y=class{constructor(e){this.send=e,this.page=Math.random().toString(36).slice(2)+Date.now().toString(36),this.number=0,this.seen=0,this.queue=[],this.under=null,this.local=new Map,this.regions={},this.drawn={},this.focus="",this.layout={screen:"",places:[],tabs:[]},this.said={text:"",role:""},this.alive=!1,this.settled=!1,this.silent=!1,this.followers=[],this.onFile=()=>{}}act(e,n={},s={}){let r={page:this.page,number:++this.number,name:e,arguments:n},i=s.key??"",o=this.queue[this.queue.length-1];i&&o&&o.key===i?o.action=r:this.queue.push({action:r,key:i}),i&&"text"in s&&this.local.set(i,{text:s.text,number:r.number}),this.settled=!1,this.pump(),this.tell()}pump(){if(this.under||!this.queue.length)return;let{action:e}=this.queue.shift(),n=setTimeout(()=>{this.silent=!0,this.tell()},6e3);this.under={number:e.number,timer:n},this.send(e)}receive(e){if(!e||typeof e!="object"||!e.layout)return;let n=e.seen&&e.seen[this.page]||0;if(n>=this.seen){if(e.layout.screen!==this.layout.screen){let s=this.regions.head;this.regions=s?{head:s}:{},this.drawn={}}this.layout=e.layout,this.said=e.said,this.focus=e.focus||this.focus}if(e.layout.screen===this.layout.screen)for(let[s,r]of Object.entries(e.regions))n>=(this.drawn[s]||0)&&(this.regions[s]=r,this.drawn[s]=n);this.alive=!0,this.silent=!1,this.seen=Math.max(this.seen,n);for(let[s,r]of this.local)r.number<=this.seen&&this.local.delete(s);this.under&&this.seen>=this.under.number&&(clearTimeout(this.under.timer),this.under=null,this.pump()),this.settled=!!e.settled&&n===this.seen&&!this.under;for(let s of e.files||[])this.onFile(s);this.tell()}text(e,n){let s=this.local.get(e);return s?s.text:n}tell(){for(let e of this.followers)e()}};var at=class extends N{componentDidMount(){this.follow=()=>this.setState({}),this.props.link.followers.push(this.follow)}componentDidUpdate(){let{link:e}=this.props;if(!e.focus)return;let n=this.base.querySelector(`[data-control="${CSS.escape(e.focus)}"]`);n&&n.focus(),e.focus=""}componentWillUnmount(){let{followers:e}=this.props.link;e.splice(e.indexOf(this.follow),1)}render({link:e}){let{layout:n,regions:s,said:r}=e,i=p=>n.places.filter(([a])=>a===p).map(([,a])=>l`<div key=${a} class=${`region r-${a}`}>
            <${k} blocks=${s[a]} link=${e} />
          </div>`),o=p=>n.places.some(([a])=>a===p),u=o("left")&&o("right"),f=p=>()=>e.act("show",{id:p});return l`<div class=${e.settled?"page settled":"page"}>
      ${o("head")?l`<div class="top">${i("head")}</div>`:null}
      ${n.tabs.length>1?l`<nav aria-label="Screens">
            ${n.tabs.map(([p,a])=>l`<button
                key=${p}
                type="button"
                class=${p===n.screen?"tab shown":"tab"}
                aria-current=${p===n.screen?"page":void 0}
                onClick=${f(p)}
              >
                ${a}
              </button>`)}
          </nav>`:null}
      <div class="said" role="status" aria-live="polite">
        ${e.silent?l`<p class="line refusal">
              <span class="sign" aria-hidden="true">!</span
              ><span>Python does not answer. If it was stopped, run the cell again: what you typed was kept.</span>
            </p>`:null}
        ${r.text?l`<p class=${`line ${r.role}`}>
              <span class="sign" aria-hidden="true">${rt[r.role]||"✓"}</span
              ><span>${r.text}</span>
            </p>`:null}
      </div>
      <div class=${u?"both":"one"}>
        ${o("left")?l`<div class="left">${i("left")}</div>`:null}
        ${o("right")?l`<div class="right">${i("right")}</div>`:null}
        ${o("wide")?l`<div class="wide">${i("wide")}</div>`:null}
      </div>
    </div>`}};async function ge(t){let e=Uint8Array.from(atob(t.base64),r=>r.charCodeAt(0)),n=new Blob([e],{type:t.type});t.name.endsWith(".png")&&t.type==="image/svg+xml"&&(n=await xe(n));let s=document.createElement("a");s.href=URL.createObjectURL(n),s.download=t.name,document.body.append(s),s.click(),s.remove(),setTimeout(()=>URL.revokeObjectURL(s.href),1e4)}function xe(t){return new Promise((e,n)=>{let s=new Image;s.onload=()=>{let r=document.createElement("canvas");r.width=2*s.width,r.height=2*s.height;let i=r.getContext("2d");if(!i)return n(new Error("no canvas"));i.drawImage(s,0,0,r.width,r.height),r.toBlob(o=>o?e(o):n(new Error("no picture")),"image/png"),URL.revokeObjectURL(s.src)},s.onerror=n,s.src=URL.createObjectURL(t)})}function Ot(t,e){t.classList.add("stoichkit");let n=new Y(e);return n.onFile=s=>{ge(s)},st(l`<${at} link=${n} />`,t),n.act("ready"),{link:n,close:()=>{n.under&&clearTimeout(n.under.timer),st(null,t)}}}function we(t){for(let e of document.querySelectorAll(`[data-stoichkit-still="${CSS.escape(t)}"]`)){let n=e.closest(".jp-OutputArea-child")||e;n instanceof HTMLElement&&(n.style.display="none")}}var Oe={render({model:t,el:e}){e.setAttribute("data-lm-suppress-shortcuts","true"),e.addEventListener("keydown",r=>r.stopPropagation());let n=Ot(e,r=>t.send(r)),s=r=>{n.link.receive(r),we(t.get("key"))};return t.on("msg:custom",s),()=>{t.off("msg:custom",s),n.close()}}};export{Oe as default};
