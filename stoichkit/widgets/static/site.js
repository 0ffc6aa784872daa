var ie,g,Oe,V,He,Ce,ft,ne={},Be=[],pt=/acit|ex(?:s|g|n|p|$)|rph|grid|ows|mnc|ntw|ine[ch]|zoo|^ord|itera/i;function I(e,t){for(var n in t)e[n]=t[n];return e}function We(e){var t=e.parentNode;t&&t.removeChild(e)}function qe(e,t,n){var s,i,r,a={};for(r in t)r=="key"?s=t[r]:r=="ref"?i=t[r]:a[r]=t[r];if(arguments.length>2&&(a.children=arguments.length>3?ie.call(arguments,2):n),typeof e=="function"&&e.defaultProps!=null)for(r in e.defaultProps)a[r]===void 0&&(a[r]=e.defaultProps[r]);return ee(e,a,s,i,null)}function ee(e,t,n,s,i){var r={type:e,props:t,key:n,ref:s,__k:null,__:null,__b:0,__e:null,__d:void 0,__c:null,__h:null,constructor:void 0,__v:i??++Oe};return g.vnode!=null&&g.vnode(r),r}function oe(e){return e.children}function O(e,t){this.props=e,this.context=t}function j(e,t){if(t==null)return e.__?j(e.__,e.__.__k.indexOf(e)+1):null;for(var n;t<e.__k.length;t++)if((n=e.__k[t])!=null&&n.__e!=null)return n.__e;return typeof e.type=="function"?j(e):null}function Fe(e){var t,n;if((e=e.__)!=null&&e.__c!=null){for(e.__e=e.__c.base=null,t=0;t<e.__k.length;t++)if((n=e.__k[t])!=null&&n.__e!=null){e.__e=e.__c.base=n.__e;break}return Fe(e)}}function Ee(e){(!e.__d&&(e.__d=!0)&&V.push(e)&&!se.__r++||Ce!==g.debounceRendering)&&((Ce=g.debounceRendering)||He)(se)}function se(){for(var e;se.__r=V.length;)e=V.sort(function(t,n){return t.__v.__b-n.__v.__b}),V=[],e.some(function(t){var n,s,i,r,a,u;t.__d&&(a=(r=(n=t).__v).__e,(u=n.__P)&&(s=[],(i=I({},r)).__v=r.__v+1,pe(u,r,i,n.__n,u.ownerSVGElement!==void 0,r.__h!=null?[a]:null,s,a??j(r),r.__h),Ve(s,r),r.__e!=a&&Fe(r)))})}function je(e,t,n,s,i,r,a,u,d,h){var o,w,p,_,x,A,b,c=s&&s.__k||Be,$=c.length;for(n.__k=[],o=0;o<t.length;o++)if((_=n.__k[o]=(_=t[o])==null||typeof _=="boolean"?null:typeof _=="string"||typeof _=="number"||typeof _=="bigint"?ee(null,_,null,null,_):Array.isArray(_)?ee(oe,{children:_},null,null,null):_.__b>0?ee(_.type,_.props,_.key,null,_.__v):_)!=null){if(_.__=n,_.__b=n.__b+1,(p=c[o])===null||p&&_.key==p.key&&_.type===p.type)c[o]=void 0;else for(w=0;w<$;w++){if((p=c[w])&&_.key==p.key&&_.type===p.type){c[w]=void 0;break}p=null}pe(e,_,p=p||ne,i,r,a,u,d,h),x=_.__e,(w=_.ref)&&p.ref!=w&&(b||(b=[]),p.ref&&b.push(p.ref,null,_),b.push(w,_.__c||x,_)),x!=null?(A==null&&(A=x),typeof _.type=="function"&&_.__k!=null&&_.__k===p.__k?_.__d=d=ze(_,d,e):d=Je(e,_,p,c,x,d),h||n.type!=="option"?typeof n.type=="function"&&(n.__d=d):e.value=""):d&&p.__e==d&&d.parentNode!=e&&(d=j(p))}for(n.__e=A,o=$;o--;)c[o]!=null&&(typeof n.type=="function"&&c[o].__e!=null&&c[o].__e==n.__d&&(n.__d=j(s,o+1)),Ge(c[o],c[o]));if(b)for(o=0;o<b.length;o++)Ke(b[o],b[++o],b[++o])}function ze(e,t,n){var s,i;for(s=0;s<e.__k.length;s++)(i=e.__k[s])&&(i.__=e,t=typeof i.type=="function"?ze(i,t,n):Je(n,i,i,e.__k,i.__e,t));return t}function Je(e,t,n,s,i,r){var a,u,d;if(t.__d!==void 0)a=t.__d,t.__d=void 0;else if(n==null||i!=r||i.parentNode==null)e:if(r==null||r.parentNode!==e)e.appendChild(i),a=null;else{for(u=r,d=0;(u=u.nextSibling)&&d<s.length;d+=2)if(u==i)break e;e.insertBefore(i,r),a=r}return a!==void 0?a:i.nextSibling}function ke(e,t,n){t[0]==="-"?e.setProperty(t,n):e[t]=n==null?"":typeof n!="number"||pt.test(t)?n:n+"px"}function Q(e,t,n,s,i){var r;e:if(t==="style")if(typeof n=="string")e.style.cssText=n;else{if(typeof s=="string"&&(e.style.cssText=s=""),s)for(t in s)n&&t in n||ke(e.style,t,"");if(n)for(t in n)s&&n[t]===s[t]||ke(e.style,t,n[t])}else if(t[0]==="o"&&t[1]==="n")r=t!==(t=t.replace(/Capture$/,"")),t=t.toLowerCase()in e?t.toLowerCase().slice(2):t.slice(2),e.l||(e.l={}),e.l[t+r]=n,n?s||e.addEventListener(t,r?De:Le,r):e.removeEventListener(t,r?De:Le,r);else if(t!=="dangerouslySetInnerHTML"){if(i)t=t.replace(/xlink[H:h]/,"h").replace(/sName$/,"s");else if(t!=="href"&&t!=="list"&&t!=="form"&&t!=="tabIndex"&&t!=="download"&&t in e)try{e[t]=n??"";break e}catch{}typeof n=="function"||(n!=null&&(n!==!1||t[0]==="a"&&t[1]==="r")?e.setAttribute(t,n):e.removeAttribute(t))}}function Le(e){this.l[e.type+!1](g.event?g.event(e):e)}function De(e){this.l[e.type+!0](g.event?g.event(e):e)}function pe(e,t,n,s,i,r,a,u,d){var h,o,w,p,_,x,A,b,c,$,y,m=t.type;if(t.constructor!==void 0)return null;n.__h!=null&&(d=n.__h,u=t.__e=n.__e,t.__h=null,r=[u]),(h=g.__b)&&h(t);try{e:if(typeof m=="function"){if(b=t.props,c=(h=m.contextType)&&s[h.__c],$=h?c?c.props.value:h.__:s,n.__c?A=(o=t.__c=n.__c).__=o.__E:("prototype"in m&&m.prototype.render?t.__c=o=new m(b,$):(t.__c=o=new O(b,$),o.constructor=m,o.render=_t),c&&c.sub(o),o.props=b,o.state||(o.state={}),o.context=$,o.__n=s,w=o.__d=!0,o.__h=[]),o.__s==null&&(o.__s=o.state),m.getDerivedStateFromProps!=null&&(o.__s==o.state&&(o.__s=I({},o.__s)),I(o.__s,m.getDerivedStateFromProps(b,o.__s))),p=o.props,_=o.state,w)m.getDerivedStateFromProps==null&&o.componentWillMount!=null&&o.componentWillMount(),o.componentDidMount!=null&&o.__h.push(o.componentDidMount);else{if(m.getDerivedStateFromProps==null&&b!==p&&o.componentWillReceiveProps!=null&&o.componentWillReceiveProps(b,$),!o.__e&&o.shouldComponentUpdate!=null&&o.shouldComponentUpdate(b,o.__s,$)===!1||t.__v===n.__v){o.props=b,o.state=o.__s,t.__v!==n.__v&&(o.__d=!1),o.__v=t,t.__e=n.__e,t.__k=n.__k,t.__k.forEach(function(S){S&&(S.__=t)}),o.__h.length&&a.push(o);break e}o.componentWillUpdate!=null&&o.componentWillUpdate(b,o.__s,$),o.componentDidUpdate!=null&&o.__h.push(function(){o.componentDidUpdate(p,_,x)})}o.context=$,o.props=b,o.state=o.__s,(h=g.__r)&&h(t),o.__d=!1,o.__v=t,o.__P=e,h=o.render(o.props,o.state,o.context),o.state=o.__s,o.getChildContext!=null&&(s=I(I({},s),o.getChildContext())),w||o.getSnapshotBeforeUpdate==null||(x=o.getSnapshotBeforeUpdate(p,_)),y=h!=null&&h.type===oe&&h.key==null?h.props.children:h,je(e,Array.isArray(y)?y:[y],t,n,s,i,r,a,u,d),o.base=t.__e,t.__h=null,o.__h.length&&a.push(o),A&&(o.__E=o.__=null),o.__e=!1}else r==null&&t.__v===n.__v?(t.__k=n.__k,t.__e=n.__e):t.__e=ht(n.__e,t,n,s,i,r,a,d);(h=g.diffed)&&h(t)}catch(S){t.__v=null,(d||r!=null)&&(t.__e=u,t.__h=!!d,r[r.indexOf(u)]=null),g.__e(S,t,n)}}function Ve(e,t){g.__c&&g.__c(t,e),e.some(function(n){try{e=n.__h,n.__h=[],e.some(function(s){s.call(n)})}catch(s){g.__e(s,n.__v)}})}function ht(e,t,n,s,i,r,a,u){var d,h,o,w=n.props,p=t.props,_=t.type,x=0;if(_==="svg"&&(i=!0),r!=null){for(;x<r.length;x++)if((d=r[x])&&(d===e||(_?d.localName==_:d.nodeType==3))){e=d,r[x]=null;break}}if(e==null){if(_===null)return document.createTextNode(p);e=i?document.createElementNS("http://www.w3.org/2000/svg",_):document.createElement(_,p.is&&p),r=null,u=!1}if(_===null)w===p||u&&e.data===p||(e.data=p);else{if(r=r&&ie.call(e.childNodes),h=(w=n.props||ne).dangerouslySetInnerHTML,o=p.dangerouslySetInnerHTML,!u){if(r!=null)for(w={},x=0;x<e.attributes.length;x++)w[e.attributes[x].name]=e.attributes[x].value;(o||h)&&(o&&(h&&o.__html==h.__html||o.__html===e.innerHTML)||(e.innerHTML=o&&o.__html||""))}if((function(A,b,c,$,y){var m;for(m in c)m==="children"||m==="key"||m in b||Q(A,m,null,c[m],$);for(m in b)y&&typeof b[m]!="function"||m==="children"||m==="key"||m==="value"||m==="checked"||c[m]===b[m]||Q(A,m,b[m],c[m],$)})(e,p,w,i,u),o)t.__k=[];else if(x=t.props.children,je(e,Array.isArray(x)?x:[x],t,n,s,i&&_!=="foreignObject",r,a,r?r[0]:n.__k&&j(n,0),u),r!=null)for(x=r.length;x--;)r[x]!=null&&We(r[x]);u||("value"in p&&(x=p.value)!==void 0&&(x!==e.value||_==="progress"&&!x)&&Q(e,"value",x,w.value,!1),"checked"in p&&(x=p.checked)!==void 0&&x!==e.checked&&Q(e,"checked",x,w.checked,!1))}return e}function Ke(e,t,n){try{typeof e=="function"?e(t):e.current=t}catch(s){g.__e(s,n)}}function Ge(e,t,n){var s,i;if(g.unmount&&g.unmount(e),(s=e.ref)&&(s.current&&s.current!==e.__e||Ke(s,null,t)),(s=e.__c)!=null){if(s.componentWillUnmount)try{s.componentWillUnmount()}catch(r){g.__e(r,t)}s.base=s.__P=null}if(s=e.__k)for(i=0;i<s.length;i++)s[i]&&Ge(s[i],t,typeof e.type!="function");n||e.__e==null||We(e.__e),e.__e=e.__d=void 0}function _t(e,t,n){return this.constructor(e,n)}function he(e,t,n){var s,i,r;g.__&&g.__(e,t),i=(s=typeof n=="function")?null:n&&n.__k||t.__k,r=[],pe(t,e=(!s&&n||t).__k=qe(oe,null,[e]),i||ne,ne,t.ownerSVGElement!==void 0,!s&&n?[n]:i?null:t.firstChild?ie.call(t.childNodes):null,r,!s&&n?n:i?i.__e:t.firstChild,s),Ve(r,e)}ie=Be.slice,g={__e:function(e,t){for(var n,s,i;t=t.__;)if((n=t.__c)&&!n.__)try{if((s=n.constructor)&&s.getDerivedStateFromError!=null&&(n.setState(s.getDerivedStateFromError(e)),i=n.__d),n.componentDidCatch!=null&&(n.componentDidCatch(e),i=n.__d),i)return n.__E=n}catch(r){e=r}throw e}},Oe=0,O.prototype.setState=function(e,t){var n;n=this.__s!=null&&this.__s!==this.state?this.__s:this.__s=I({},this.state),typeof e=="function"&&(e=e(I({},n),this.props)),e&&I(n,e),e!=null&&this.__v&&(t&&this.__h.push(t),Ee(this))},O.prototype.forceUpdate=function(e){this.__v&&(this.__e=!0,e&&this.__h.push(e),Ee(this))},O.prototype.render=oe,V=[],He=typeof Promise=="function"?Promise.prototype.then.bind(Promise.resolve()):setTimeout,se.__r=0,ft=0;var K,P,Ae,re=0,de=[],Pe=g.__b,Te=g.__r,Me=g.diffed,Ne=g.__c,Ue=g.unmount;function ae(e,t){g.__h&&g.__h(P,e,re||t),re=0;var n=P.__H||(P.__H={__:[],__h:[]});return e>=n.__.length&&n.__.push({}),n.__[e]}function q(e){return re=1,$t(Xe,e)}function $t(e,t,n){var s=ae(K++,2);return s.t=e,s.__c||(s.__=[n?n(t):Xe(void 0,t),function(i){var r=s.t(s.__[0],i);s.__[0]!==r&&(s.__=[r,s.__[1]],s.__c.setState({}))}],s.__c=P),s.__}function Ye(e,t){var n=ae(K++,3);!g.__s&&_e(n.__H,t)&&(n.__=e,n.__H=t,P.__H.__h.push(n))}function Ze(e,t){var n=ae(K++,4);!g.__s&&_e(n.__H,t)&&(n.__=e,n.__H=t,P.__h.push(n))}function H(e){return re=5,mt(function(){return{current:e}},[])}function mt(e,t){var n=ae(K++,7);return _e(n.__H,t)&&(n.__=e(),n.__H=t,n.__h=e),n.__}function gt(){de.forEach(function(e){if(e.__P)try{e.__H.__h.forEach(te),e.__H.__h.forEach(fe),e.__H.__h=[]}catch(t){e.__H.__h=[],g.__e(t,e.__v)}}),de=[]}g.__b=function(e){P=null,Pe&&Pe(e)},g.__r=function(e){Te&&Te(e),K=0;var t=(P=e.__c).__H;t&&(t.__h.forEach(te),t.__h.forEach(fe),t.__h=[])},g.diffed=function(e){Me&&Me(e);var t=e.__c;t&&t.__H&&t.__H.__h.length&&(de.push(t)!==1&&Ae===g.requestAnimationFrame||((Ae=g.requestAnimationFrame)||function(n){var s,i=function(){clearTimeout(r),Re&&cancelAnimationFrame(s),setTimeout(n)},r=setTimeout(i,100);Re&&(s=requestAnimationFrame(i))})(gt)),P=void 0},g.__c=function(e,t){t.some(function(n){try{n.__h.forEach(te),n.__h=n.__h.filter(function(s){return!s.__||fe(s)})}catch(s){t.some(function(i){i.__h&&(i.__h=[])}),t=[],g.__e(s,n.__v)}}),Ne&&Ne(e,t)},g.unmount=function(e){Ue&&Ue(e);var t=e.__c;if(t&&t.__H)try{t.__H.__.forEach(te)}catch(n){g.__e(n,t.__v)}};var Re=typeof requestAnimationFrame=="function";function te(e){var t=P;typeof e.__c=="function"&&e.__c(),P=t}function fe(e){var t=P;e.__c=e.__(),P=t}function _e(e,t){return!e||e.length!==t.length||t.some(function(n,s){return n!==e[s]})}function Xe(e,t){return typeof t=="function"?t(e):t}var Qe=function(e,t,n,s){var i;t[0]=0;for(var r=1;r<t.length;r++){var a=t[r++],u=t[r]?(t[0]|=a?1:2,n[t[r++]]):t[++r];a===3?s[0]=u:a===4?s[1]=Object.assign(s[1]||{},u):a===5?(s[1]=s[1]||{})[t[++r]]=u:a===6?s[1][t[++r]]+=u+"":a?(i=e.apply(u,Qe(e,u,n,["",null])),s.push(i),u[0]?t[0]|=2:(t[r-2]=0,t[r]=i)):s.push(u)}return s},Ie=new Map,l=function(e){var t=Ie.get(this);return t||(t=new Map,Ie.set(this,t)),(t=Qe(this,t.get(e)||(t.set(e,t=(function(n){for(var s,i,r=1,a="",u="",d=[0],h=function(p){r===1&&(p||(a=a.replace(/^\s*\n\s*|\s*\n\s*$/g,"")))?d.push(0,p,a):r===3&&(p||a)?(d.push(3,p,a),r=2):r===2&&a==="..."&&p?d.push(4,p,0):r===2&&a&&!p?d.push(5,0,!0,a):r>=5&&((a||!p&&r===5)&&(d.push(r,0,a,i),r=6),p&&(d.push(r,p,0,i),r=6)),a=""},o=0;o<n.length;o++){o&&(r===1&&h(),h(o));for(var w=0;w<n[o].length;w++)s=n[o][w],r===1?s==="<"?(h(),d=[d],r=3):a+=s:r===4?a==="--"&&s===">"?(r=1,a=""):a=s+a[0]:u?s===u?u="":a+=s:s==='"'||s==="'"?u=s:s===">"?(h(),r=1):r&&(s==="="?(r=5,i=a,a=""):s==="/"&&(r<5||n[o][w+1]===">")?(h(),r===3&&(d=d[0]),r=d,(d=d[0]).push(2,0,r),r=0):s===" "||s==="	"||s===`
`||s==="\r"?(h(),r=2):a+=s),r===3&&a==="!--"&&(r=4,d=d[0])}return h(),d})(e)),t),arguments,[])).length>1?t:t[0]}.bind(qe);var yt=0;function U(e){let t=H("");return t.current||(t.current=`stoichkit-${e}-${++yt}`),t.current}var B=.5522847498307936,et=e=>/^[a-z]+$/.test(e)?`var(--pic-${e})`:e;function tt(e){let t=[];for(let n=0;n<e.length;n+=2)t.push(`${e[n]},${e[n+1]}`);return t.join(" ")}function vt([e,t,n,s,i,r]){let u=[[1,0],[1,B],[B,1],[0,1],[-B,1],[-1,B],[-1,0],[-1,-B],[-B,-1],[0,-1],[B,-1],[1,-B],[1,0]].map(([d,h])=>`${(e+d*n+h*i).toFixed(2)} ${(t+d*s+h*r).toFixed(2)}`);return`M${u[0]} C${u.slice(1,4).join(" ")} C${u.slice(4,7).join(" ")} C${u.slice(7,10).join(" ")} C${u.slice(10,13).join(" ")}Z`}function wt({item:e}){let t=et(e.ink);switch(e.is){case"line":return l`<polyline points=${tt(e.at)} style=${`fill:none;stroke:${t}`} stroke-width=${e.width} stroke-dasharray=${e.dashes?e.dashes.join(" "):void 0} />`;case"area":return l`<polygon points=${tt(e.at)} style=${`fill:${t};fill-opacity:${e.opacity};${e.edge?`stroke:${et(e.edge)};stroke-width:0.9`:""}`} />`;case"ellipse":return l`<path d=${vt(e.at)} style=${`fill:${e.opacity?t:"none"};fill-opacity:${e.opacity};stroke:${t}`} stroke-width=${e.width} />`;case"circle":return l`<circle cx=${e.at[0]} cy=${e.at[1]} r=${e.size} style=${`fill:${t};stroke:var(--pic-paper)`} stroke-width="0.8" />`;case"diamond":{let[n,s]=e.at,i=e.size;return l`<path d=${`M${n} ${s-i}L${n+i} ${s}L${n} ${s+i}L${n-i} ${s}Z`} style=${`fill:${t};stroke:var(--pic-paper)`} stroke-width="0.8" />`}case"words":{let[n,s]=e.at;return l`<text x=${n} y=${s} font-size=${e.size} text-anchor=${e.anchor==="start"?void 0:e.anchor} font-weight=${e.bold?"bold":void 0} style=${`fill:${t}`} transform=${e.angle?`rotate(${e.angle} ${n} ${s})`:void 0}>${e.text}</text>`}default:return null}}function nt({block:e,link:t}){let n=H(null),s=H(null),[i,r]=q(""),[a,u]=q(null),[d,h,o,w]=a&&a.limits||e.limits,{width:p,height:_}=e,x=([f,v],[E,C,k,N]=e.limits)=>[(f-E)/(C-E)*p,_-(v-k)/(N-k)*_],A=f=>`move ${e.id} ${f.name}`;Ye(()=>{if(!e.sizes||!n.current||typeof ResizeObserver>"u")return;let f=0,v=0,E=()=>{let k=Math.floor(n.current?n.current.clientWidth:0);k<100||k>=v&&k-v<9||(v=k,t.act("pick",{id:`${e.id}:width`,to:k},{key:`width ${e.id}`}))},C=new ResizeObserver(()=>{clearTimeout(f),f=setTimeout(E,120)});return C.observe(n.current),()=>C.disconnect()},[e.id,e.sizes]);let b=f=>{let v=s.current.getBoundingClientRect(),E=d+(f.clientX-v.left)/v.width*(h-d),C=w-(f.clientY-v.top)/v.height*(w-o);return[E,C]},c=(f,v,E)=>t.act("move",{id:`${e.id}:move`,spot:f.name,x:v,y:E},{key:A(f),text:[v,E]}),$=(f,v)=>{v.preventDefault(),t.act("move",{id:`${e.id}:move`,spot:f.name,x:f.x,y:f.y})},y=f=>{let v=e.spots.find(k=>k.drag);if(!e.picks||!v||f.target.closest(".spot"))return;let[E,C]=b(f);E<d||E>h||C<o||C>w||(c(v,E,C),t.act("left",{id:e.id}))},m=f=>v=>{!f.drag&&e.picks&&(v.currentTarget.focus(),$(f,v)),!(!f.drag||!e.moves)&&(v.preventDefault(),v.currentTarget.focus(),v.currentTarget.setPointerCapture(v.pointerId),u({name:f.name,at:[f.x,f.y],limits:e.limits}))},S=f=>v=>{if(!a||!a.limits||a.name!==f.name)return;let[E,C]=b(v);u({...a,at:[E,C]}),c(f,E,C)},D=()=>{a&&t.act("left",{id:e.id}),u(null)},J=f=>v=>{if(!f.drag&&e.picks&&(v.key==="Enter"||v.key===" ")&&$(f,v),!f.drag||!e.moves)return;let E=v.shiftKey?20:100,C=(h-d)/E,k=(w-o)/E,N={ArrowLeft:[-C,0],ArrowRight:[C,0],ArrowUp:[0,k],ArrowDown:[0,-k]}[v.key];if(!N)return;v.preventDefault();let[X,ue]=a&&a.name===f.name?a.at:[f.x,f.y],ce=[X+N[0],ue+N[1]];u({name:f.name,at:ce,limits:null}),c(f,ce[0],ce[1])};return l`<figure class=${e.stale?"picture stale":"picture"} ref=${n}>
    <svg ref=${s} class=${e.picks?"picks":""} onClick=${y} viewBox=${`0 0 ${p} ${_}`} style=${`width:${Math.round(p*1.5)}px`} role="group" aria-label=${e.title}>
      <g aria-hidden="true">${e.items.map((f,v)=>l`<${wt} key=${v} item=${f} />`)}</g>
      ${e.spots.map((f,v)=>{let E=a&&a.name===f.name,C=t.text(A(f),[f.x,f.y]),[k,N]=E?x(a.at,a.limits||e.limits):x(C),X=e.moves&&(f.drag||e.picks),ue=X?`${f.words}. ${f.drag?"Arrow keys move it":"Enter takes it"}`:f.words;return l`<g key=${v} class=${E?"spot moving":"spot"} tabindex="0" role=${X?"button":"img"} aria-label=${ue}
          onPointerDown=${m(f)} onPointerMove=${S(f)} onPointerUp=${D} onPointerCancel=${D}
          onKeyDown=${J(f)} onMouseEnter=${()=>r(f.words)} onMouseLeave=${()=>r("")}
          onFocus=${()=>r(f.words)} onBlur=${()=>{r(""),u(null),t.act("left",{id:e.id})}}>
          <circle cx=${k} cy=${N} r="9" class="target" />
          ${E?l`<circle cx=${k} cy=${N} r="4" class="moved" />`:null}
        </g>`})}
    </svg>
    <figcaption>
      <span class="pointed">${i||e.hint}</span>
      ${e.saves?l`<span class="saves"
            ><button type="button" class="button quiet" onClick=${()=>t.act("set",{id:`${e.id}:save`,to:"svg"})}>Save SVG</button
            ><button type="button" class="button quiet" onClick=${()=>t.act("set",{id:`${e.id}:save`,to:"png"})}>Save PNG</button></span
          >`:null}
      <details class="described"><summary>The picture in words</summary><p>${e.alt}</p></details>
    </figcaption>
  </figure>`}function xt(e){return e.replace(/\r\n?/g,`
`).replace(/\n+$/,"").split(`
`).map(n=>n.split("	"))}function st({block:e,link:t}){let n=H(null),s=H(null),i=U("sheet"),r=`grow ${e.id}`,a=Number(t.text(r,0))-e.rows.length,u=[...e.rows,...Array.from({length:Math.max(a,0)},()=>({name:"",cells:e.columns.map(()=>({text:"",refusal:"",mark:"",note:"",lines:0})),result:"",refusal:""}))],d=(c,$)=>n.current&&n.current.querySelector(`[data-at="${c}:${$}"]`),h=(c,$)=>{let y=d(c,$);return y?(y.focus(),y.select&&y.select(),!0):!1};Ze(()=>{s.current&&h(...s.current)&&(s.current=null)});let o=(c,$)=>y=>{let m=y.target.value,S=`cell ${e.id} ${c} ${$}`;t.act("cells",{id:e.id,row:c,column:$,to:[[m]]},{key:S,text:m})},w=(c,$)=>y=>{let m=y.clipboardData&&y.clipboardData.getData("text/plain"),S=m?xt(m):[];S.length<2&&(!S[0]||S[0].length<2)||(y.preventDefault(),t.act("cells",{id:e.id,row:c,column:$,to:S}))},p=(c,$,y)=>m=>{let{key:S,target:D}=m,J=D.selectionStart===0&&D.selectionEnd===0,f=D.value.length,v=D.selectionStart===f&&D.selectionEnd===f,E=D.selectionStart===0&&D.selectionEnd===f,C=null;if(S==="Enter"&&!(y&&m.altKey)?C=[c+(m.shiftKey?-1:1),$]:S==="ArrowDown"?C=[c+1,$]:S==="ArrowUp"?C=[c-1,$]:S==="ArrowLeft"&&(J||E)?C=[c,$-1]:S==="ArrowRight"&&(v||E)&&(C=[c,$+1]),!C||(m.preventDefault(),h(C[0],C[1])))return;let k=u.length;if(S!=="Enter"||C[0]<k||!e.grows)return;s.current=[k,0];let N={id:e.id,row:k,column:0,to:[[""]]};t.act("cells",N,{key:r,text:k+1})},_=()=>t.act("left",{id:e.id}),x=(c,$,y,m)=>{let S=`${m}, ${e.columns[$].label}`,D=t.text(`cell ${e.id} ${c} ${$}`,y.text),J=y.refusal||y.note;return l`<td key=${$} class=${y.refusal?"refused":y.mark.replace(" ","-")}>
      <input
        type="text"
        data-at=${`${c}:${$}`}
        data-control=${`${e.id} ${c} ${$}`}
        value=${D}
        style=${`min-width:${Math.min(String(D).length,30)+3}ch`}
        aria-label=${y.mark?`${S}, ${y.mark}`:S}
        aria-invalid=${y.refusal?"true":void 0}
        aria-describedby=${y.refusal?`${i}-${c}`:void 0}
        title=${J||void 0}
        inputmode="decimal"
        autocomplete="off"
        spellcheck=${!1}
        onInput=${o(c,$)}
        onPaste=${w(c,$)}
        onKeyDown=${p(c,$,y.lines)}
        onBlur=${_}
      />
      ${y.mark==="what if"?l`<span class="was">${y.note}</span>`:null}
    </td>`},A=(c,$)=>{let m=c.cells.map((S,D)=>[e.columns[D].label,S.refusal]).filter(([,S])=>S);return m.length?l`<tr key=${`why ${$}`} class="why">
      <td colspan=${e.columns.length+(e.result?2:1)} id=${`${i}-${$}`}>
        ${m.map(([S,D])=>l`<p key=${S}>${S}: ${D}</p>`)}
      </td>
    </tr>`:null},b=c=>$=>{let y=$.target.value,m=`name ${e.id} ${c}`;t.act("cells",{id:e.names,row:c,column:0,to:[[y]]},{key:m,text:y})};return l`<div class="scroll sheet" role="group" aria-label=${e.label} ref=${n}>
    <table>
      <thead>
        <tr>
          <th scope="col">${e.names?"trial":""}</th>
          ${e.columns.map((c,$)=>l`<th key=${$} scope="col">${c.label}${c.unit?`, ${c.unit}`:""}</th>`)}
          ${e.result?l`<th scope="col" class="result">${e.result}</th>`:null}
        </tr>
      </thead>
      <tbody>
        ${u.map((c,$)=>[l`<tr key=${$}>
            <th scope="row">
              ${e.names?l`<input
                    type="text"
                    aria-label=${`Name of trial ${$+1}`}
                    value=${t.text(`name ${e.id} ${$}`,c.name)}
                    onInput=${b($)}
                    onBlur=${_}
                    autocomplete="off"
                    spellcheck=${!1}
                  />`:c.name}
            </th>
            ${c.cells.map((y,m)=>x($,m,y,c.name))}
            ${e.result?l`<td class=${c.refusal?"result refused":"result"}>
                  ${c.refusal||c.result}
                </td>`:null}
          </tr>`,A(c,$)])}
      </tbody>
    </table>
  </div>`}function F({blocks:e,link:t}){let n={};return(e||[]).map(s=>{let i=Vt[s.kind];if(!i)return null;n[s.kind]=(n[s.kind]||0)+1;let r=s.id||`${s.kind}${n[s.kind]}`;return l`<${i} key=${r} block=${s} link=${t} />`})}function bt({block:e}){return e.level===2?l`<h2>${e.text}</h2>`:l`<h3>${e.text}</h3>`}var me={warning:"!",refusal:"!",diagnosis:"✓",trust:"⇔",good:"✓"};function St({block:e}){let t=me[e.role],n=e.spoken||e.role==="status"?"status":void 0;if(t)return l`<p class=${`line ${e.role}`} role=${n}>
      <span class="sign" aria-hidden="true">${t}</span><span>${e.text}</span>
    </p>`;let s=e.role==="status"?"note":e.role;return l`<p class=${s} role=${n}>${e.text}</p>`}function Ct({block:e,link:t}){let n=U("field"),s=`set ${e.id}`,i=t.text(s,e.text),r=w=>{let p=w.target.value;t.act("set",{id:e.id,to:p},{key:s,text:p})},a=()=>t.act("left",{id:e.id}),u=w=>{w.key!=="Enter"||!e.enter||e.lines||(w.preventDefault(),t.act("press",{id:e.enter}))},d=e.refusal||e.note,h={id:n,"data-control":e.id,value:i,onInput:r,onBlur:a,onKeyDown:u,spellcheck:!1,autocomplete:"off","aria-invalid":e.refusal||e.refused?"true":void 0,"aria-describedby":d?`${n}-note`:void 0,"aria-label":e.bare?e.label:void 0,style:e.width?`width:${e.width+3}ch`:""},o=e.options&&e.options.length?`${n}-list`:void 0;return l`<div class=${e.bare?"field bare":"field"}>
    ${e.bare?null:l`<label for=${n}>${e.label}</label>`}
    ${e.lines?l`<textarea rows=${e.lines} ...${h}></textarea>`:l`<input type="text" list=${o} ...${h} />`}
    ${o?l`<datalist id=${o}>
          ${e.options.map(([w,p])=>l`<option value=${w}>${p}</option>`)}
        </datalist>`:null}
    ${d?l`<span id=${`${n}-note`} class=${e.refusal?"refused":"hint"}>${d}</span>`:null}
  </div>`}function Et({block:e,link:t}){let n=U("choice"),s=`set ${e.id}`,i=t.text(s,e.value),r=a=>{let u=a.target.value;t.act("set",{id:e.id,to:u},{key:s,text:u})};return l`<div class=${e.bare?"field bare":"field"}>
    ${e.bare?null:l`<label for=${n}>${e.label}</label>`}
    <select id=${n} data-control=${e.id} onChange=${r} aria-label=${e.bare?e.label:void 0}>
      ${e.options.map(([a,u])=>l`<option value=${a} selected=${a===i}>${u}</option>`)}
    </select>
  </div>`}function kt({block:e,link:t}){let n=`tick ${e.id}`,s=t.text(n,e.on),i=r=>{let a=r.target.checked;t.act("tick",{id:e.id,to:a},{key:n,text:a})};return l`<label class="tick"
    ><input type="checkbox" data-control=${e.id} checked=${s} onChange=${i} /> ${e.label}</label
  >`}function Lt({block:e,link:t}){return l`<button
    type="button"
    class=${`button ${e.look}`}
    data-control=${e.id}
    disabled=${!e.enabled}
    aria-label=${e.spoken||void 0}
    title=${e.spoken||void 0}
    onClick=${()=>t.act("press",{id:e.id})}
  >
    ${e.label}
  </button>`}function Dt({block:e,link:t}){return l`<div class=${e.even?"row even":"row"}><${F} blocks=${e.blocks} link=${t} /></div>`}function At({block:e,link:t}){let[n,s]=q(!1),i=U("chip");return l`<div class=${n?"chip open":"chip"}>
    <button
      type="button"
      class=${e.refused?"refused":""}
      aria-expanded=${n?"true":"false"}
      aria-controls=${i}
      onClick=${()=>s(!n)}
    >
      <span class="chip-label">${e.label}</span> ${e.text}
    </button>
    <div id=${i} class="chip-body" hidden=${!n}>
      ${n?l`<${F} blocks=${e.blocks} link=${t} />`:null}
    </div>
  </div>`}function Pt({block:e,link:t}){return l`<div class="sentence">
    ${e.parts.map((n,s)=>n.kind==="words"?l`<span key=${s}>${n.text}</span>`:l`<${F} key=${n.id||s} blocks=${[n]} link=${t} />`)}
  </div>`}function Tt({block:e,link:t}){let[n,s]=q(!!e.opened),i=U("more");return l`<div class="details">
    <button
      type="button"
      class="summary"
      aria-expanded=${n?"true":"false"}
      aria-controls=${i}
      onClick=${()=>s(!n)}
    >
      <span aria-hidden="true">${n?"−":"+"}</span> ${e.summary}
    </button>
    <div id=${i} hidden=${!n}>
      ${n?l`<${F} blocks=${e.blocks} link=${t} />`:null}
    </div>
  </div>`}function it({block:e}){return l`<ul>
    ${e.items.map((t,n)=>l`<li key=${n}>${t}</li>`)}
  </ul>`}function ot({block:e,link:t}){let n=s=>t.act("pick",{id:e.id,to:s});return l`<div class=${e.prose?"scroll prose":"scroll"} tabindex="0" role="group" aria-label=${e.caption||"table"}>
    <table>
      ${e.caption?l`<caption>${e.caption}</caption>`:null}
      <thead>
        <tr>
          ${e.header.map((s,i)=>l`<th key=${i} scope="col">${s}</th>`)}
        </tr>
      </thead>
      <tbody>
        ${e.rows.map((s,i)=>l`<tr
            key=${i}
            class=${`${(e.looks||[])[i]||""} ${e.selected===i?"selected":""}`}
          >
            ${s.map((r,a)=>a?l`<td key=${a}>${r}</td>`:l`<th key=${a} scope="row">
                    ${e.id?l`<button
                          type="button"
                          class="button quiet"
                          aria-pressed=${e.selected===i?"true":"false"}
                          onClick=${()=>n(i)}
                        >
                          ${r}
                        </button>`:r}
                  </th>`)}
          </tr>`)}
      </tbody>
    </table>
  </div>`}function Mt({block:e,link:t}){return l`<section class=${`verdict ${e.look.replace(" ","-")}`} aria-label="Verdict">
    <p class="headline" role="status">${e.headline}</p>
    <${F} blocks=${e.blocks} link=${t} />
  </section>`}function Nt({block:e}){return l`<ul class=${e.stale?"candidates stale":"candidates"} aria-label="Candidates">
    ${e.rows.map(t=>l`<li key=${t.name} class=${t.fits?"fits":"out"}>
        <span class="name">${t.name}</span>
        <span class="bar" aria-hidden="true"
          ><span style=${`width:${Math.max(100*t.share,t.share>0?.6:0)}%`}></span
        ></span>
        <span class="standing"
          >${[t.standing,t.p,t.yield].filter(Boolean).join(" · ")}</span
        >
      </li>`)}
  </ul>`}function Ut({block:e,link:t}){let n=U("step"),s=`step ${e.id}`,i=Number(t.text(s,e.value)),r=u=>t.act("step",{id:e.id,to:u},{key:s,text:u}),a=e.words.length-1;return l`<div class="step">
    <label for=${n}>${e.label}</label>
    <input
      id=${n}
      data-control=${e.id}
      type="range"
      min="0"
      max=${a}
      step="1"
      value=${i}
      aria-valuetext=${e.words[i]}
      onInput=${u=>r(Number(u.target.value))}
      onBlur=${()=>t.act("left",{id:e.id})}
    />
    <output for=${n}>${e.words[i]}</output>
    ${e.own>=0&&i!==e.own?l`<button type="button" class="button quiet" onClick=${()=>r(e.own)}>
          back to ${e.words[e.own].replace(" (mine)","")}
        </button>`:null}
  </div>`}function Rt({block:e,link:t}){return l`<div class="progress">
    <span class="turn" aria-hidden="true"></span>
    <span role="status">${e.words}</span>
    <button
      type="button"
      class="button"
      data-control=${e.id}
      onClick=${()=>t.act("press",{id:e.id})}
    >
      Stop
    </button>
  </div>`}function ge(e,t,n){let s=new FileReader;s.onload=()=>e.act("file",{id:t,name:n.name,base64:String(s.result).split(",")[1]||""}),s.readAsDataURL(n)}function It({block:e,link:t}){let n=U("file"),s=i=>{let r=i.target.files&&i.target.files[0];r&&ge(t,e.id,r),i.target.value=""};return l`<div class="field">
    <label for=${n}>${e.label}</label>
    <input id=${n} data-control=${e.id} type="file" accept=${e.accept} onChange=${s} />
  </div>`}function Ot({part:e}){return l`<p class="equation">
    ${e.sides.map((t,n)=>l`<span key=${n}>${n?"= ":""}${t}</span>`)}
    ${e.remark?l`<span class="hint">${e.remark}</span>`:null}
  </p>`}function Ht({part:e}){let t=`data:image/svg+xml;charset=utf-8,${encodeURIComponent(e.svg)}`;return l`<figure class="drawing">
    <img src=${t} alt=${e.alt_text} />
    ${e.caption?l`<figcaption>${e.caption}</figcaption>`:null}
  </figure>`}var Bt=40;function Wt({part:e}){switch(e.kind){case"strong":return l`<p class="strong">${e.text}</p>`;case"subheading":return l`<h4>${e.text}</h4>`;case"list":return l`<${it} block=${e} />`;case"table":return l`<${ot} block=${{...e,prose:e.rows.some(t=>t.some(n=>n.length>Bt))}} />`;case"equation":return l`<${Ot} part=${e} />`;case"picture":return l`<${Ht} part=${e} />`;case"field":return l`<p>${e.label}: ${e.value||"________________"}</p>`;default:return l`<p>${e.text}</p>`}}function qt({block:e}){return l`<article class="document">
    ${e.titled&&e.title?l`<h2>${e.title}</h2>`:null}
    ${e.opening.map((t,n)=>l`<p key=${n}>${t}</p>`)}
    ${e.sections.map((t,n)=>l`<section key=${n}>
        ${t.title?l`<h3>${t.title}</h3>`:null}
        ${t.parts.map((s,i)=>l`<${Wt} key=${i} part=${s} />`)}
      </section>`)}
  </article>`}function Ft({block:e}){return l`<pre class="source" tabindex="0" role="region" aria-label=${e.label}>
${e.text}</pre
  >`}async function jt(e){if(navigator.clipboard&&window.isSecureContext)return navigator.clipboard.writeText(e);let t=document.createElement("textarea");t.value=e,document.body.append(t),t.select();let n=document.execCommand("copy");if(t.remove(),!n)throw new Error("the browser refused")}function zt({block:e}){let[t,n]=q("");return l`<div class="row">
    <button type="button" class="button" onClick=${()=>jt(e.text).then(()=>n("Copied."),()=>n("The browser does not allow copying: select the text instead."))}>${e.label}</button>
    <span class="note" role="status">${t}</span>
  </div>`}var $e=class extends O{componentDidMount(){let{block:t,link:n}=this.props,s=Jt(t.place);s&&s!==t.text?n.act("set",{id:t.id,to:s}):t.text&&rt(t.place,t.text)}componentDidUpdate(){let{block:t}=this.props;t.text&&rt(t.place,t.text)}render(){return null}};function Jt(e){try{return window.localStorage.getItem(e)||""}catch{return""}}function rt(e,t){try{window.localStorage.setItem(e,t)}catch{return}}var Vt={heading:bt,words:St,field:Ct,choice:Et,tick:kt,button:Lt,row:Dt,chip:At,sentence:Pt,details:Tt,list:it,table:ot,verdict:Mt,candidates:Nt,step:Ut,progress:Rt,file:It,document:qt,picture:nt,sheet:st,source:Ft,copy:zt,kept:$e};var le=class{constructor(t){this.send=t,this.page=Math.random().toString(36).slice(2)+Date.now().toString(36),this.number=0,this.seen=0,this.queue=[],this.under=null,this.local=new Map,this.regions={},this.drawn={},this.focus="",this.layout={screen:"",places:[],tabs:[]},this.said={text:"",role:""},this.alive=!1,this.settled=!1,this.silent=!1,this.silence="Python does not answer. If it was stopped, run the cell again: what you typed was kept.",this.followers=[],this.onFile=()=>{}}act(t,n={},s={}){let i={page:this.page,number:++this.number,name:t,arguments:n},r=s.key??"",a=this.queue[this.queue.length-1];r&&a&&a.key===r?a.action=i:this.queue.push({action:i,key:r}),r&&"text"in s&&this.local.set(r,{text:s.text,number:i.number}),this.settled=!1,this.pump(),this.tell()}pump(){if(this.under||!this.queue.length)return;let{action:t}=this.queue.shift(),n=setTimeout(()=>{this.silent=!0,this.tell()},6e3);this.under={action:t,number:t.number,timer:n},this.send(t)}receive(t){if(!t||typeof t!="object"||!t.layout)return;let n=t.seen&&t.seen[this.page]||0;if(n>=this.seen){if(t.layout.screen!==this.layout.screen){let s=this.regions.head;this.regions=s?{head:s}:{},this.drawn={}}this.layout=t.layout,this.said=t.said,this.focus=t.focus||this.focus}if(t.layout.screen===this.layout.screen)for(let[s,i]of Object.entries(t.regions))n>=(this.drawn[s]||0)&&(this.regions[s]=i,this.drawn[s]=n);this.alive=!0,this.silent=!1,this.seen=Math.max(this.seen,n);for(let[s,i]of this.local)i.number<=this.seen&&this.local.delete(s);this.under&&this.seen>=this.under.number&&(clearTimeout(this.under.timer),this.under=null,this.pump()),this.settled=!!t.settled&&n===this.seen&&!this.under;for(let s of t.files||[])this.onFile(s);this.tell()}get open(){let t=this.queue.map(n=>n.action);return this.under?[this.under.action,...t]:t}renew(){let t=this.open;return this.under&&clearTimeout(this.under.timer),this.under=null,this.queue=[],this.silent=!1,this.act("ready"),t}text(t,n){let s=this.local.get(t);return s?s.text:n}tell(){for(let t of this.followers)t()}};var ye=class extends O{componentDidMount(){this.follow=()=>this.setState({}),this.props.link.followers.push(this.follow)}componentDidUpdate(){let{link:t}=this.props;if(!t.focus)return;let n=this.base.querySelector(`[data-control="${CSS.escape(t.focus)}"]`);n&&n.focus(),t.focus=""}componentWillUnmount(){let{followers:t}=this.props.link;t.splice(t.indexOf(this.follow),1)}render({link:t}){let{layout:n,regions:s,said:i}=t,r=h=>n.places.filter(([o])=>o===h).map(([,o])=>l`<div key=${o} class=${`region r-${o}`}>
            <${F} blocks=${s[o]} link=${t} />
          </div>`),a=h=>n.places.some(([o])=>o===h),u=a("left")&&a("right"),d=h=>()=>t.act("show",{id:h});return l`<div class=${t.settled?"page settled":"page"}>
      ${a("head")?l`<div class="top">${r("head")}</div>`:null}
      ${n.tabs.length>1?l`<nav aria-label="Screens">
            ${n.tabs.map(([h,o])=>l`<button
                key=${h}
                type="button"
                class=${h===n.screen?"tab shown":"tab"}
                aria-current=${h===n.screen?"page":void 0}
                onClick=${d(h)}
              >
                ${o}
              </button>`)}
          </nav>`:null}
      <div class="said" role="status" aria-live="polite">
        ${t.silent?l`<p class="line refusal">
              <span class="sign" aria-hidden="true">!</span
              ><span>${t.silence}</span>
            </p>`:null}
        ${i.text?l`<p class=${`line ${i.role}`}>
              <span class="sign" aria-hidden="true">${me[i.role]||"✓"}</span
              ><span>${i.text}</span>
            </p>`:null}
      </div>
      <div class=${u?"both":"one"}>
        ${a("left")?l`<div class="left">${r("left")}</div>`:null}
        ${a("right")?l`<div class="right">${r("right")}</div>`:null}
        ${a("wide")?l`<div class="wide">${r("wide")}</div>`:null}
      </div>
    </div>`}};async function Kt(e){let t=Uint8Array.from(atob(e.base64),i=>i.charCodeAt(0)),n=new Blob([t],{type:e.type});e.name.endsWith(".png")&&e.type==="image/svg+xml"&&(n=await Gt(n));let s=document.createElement("a");s.href=URL.createObjectURL(n),s.download=e.name,document.body.append(s),s.click(),s.remove(),setTimeout(()=>URL.revokeObjectURL(s.href),1e4)}function Gt(e){return new Promise((t,n)=>{let s=new Image;s.onload=()=>{let i=document.createElement("canvas");i.width=2*s.width,i.height=2*s.height;let r=i.getContext("2d");if(!r)return n(new Error("no canvas"));r.drawImage(s,0,0,i.width,i.height),i.toBlob(a=>a?t(a):n(new Error("no picture")),"image/png"),URL.revokeObjectURL(s.src)},s.onerror=n,s.src=URL.createObjectURL(e)})}function at(e,t){e.classList.add("stoichkit");let n=new le(t);return n.onFile=s=>{Kt(s)},he(l`<${ye} link=${n} />`,e),n.act("ready"),{link:n,close:()=>{n.under&&clearTimeout(n.under.timer),he(null,e)}}}var ut=["set","tick","step","cells"],Yt=1e3,Zt=4e3,Xt="Python is still working. What you type meanwhile is kept, and done afterwards.",Qt=.25,T=e=>document.getElementById(e),en=document.querySelector("main"),ct=location.href.split(/[?#]/)[0],tn=Number(en.dataset.bytes)||1,R=null,L=null,Z="1",G={screen:"",actions:[]},we=!1,be=!1;function xe(e,t){let n=Math.round(100*Math.min(e,1)),s=T("bar");s.setAttribute("aria-valuenow",String(n)),t&&(T("stage").textContent=t,s.setAttribute("aria-valuetext",`${n} %: ${t}`)),T("done").style.width=`${n}%`}function M(e,t,{alarm:n=!1,button:s="",press:i=()=>{}}={}){if(T(`notice-${e}`)?.remove(),!t)return;let r=document.createElement("div");r.id=`notice-${e}`,r.className=n?"notice alarm":"notice";let a=document.createElement("p");if(a.setAttribute("role",n?"alert":"status"),r.append(a),s){let u=document.createElement("button");u.type="button",u.textContent=s,u.addEventListener("click",()=>{r.remove(),i()}),r.append(u)}T("notices").append(r),a.textContent=t}function Se(e,t){T("loading").hidden=!0,M("failed",`${e} ${t}`,{alarm:!0,button:"Load this page again",press:()=>location.reload()})}var W=e=>`stoichkit ${ct} ${e}`;function z(e,t){try{return e()}catch{return t}}function nn(){let e={};return z(()=>{let t=W("typed-");for(let n of Object.keys(localStorage))n.startsWith(t)&&(e[n.slice(W("").length)]=JSON.parse(localStorage.getItem(n)||"null"))},void 0),JSON.stringify(e)}function sn(e){let t=!1;for(let[n,s]of Object.entries(e))s===null?z(()=>localStorage.removeItem(W(n)),void 0):z(()=>(localStorage.setItem(W(n),JSON.stringify(s)),!0),!1)||(t=!0);M("full",t?"This browser keeps nothing more of what you type. Download the lab to keep it.":"",{alarm:!0,button:"Close"})}function rn(){if(!L)return;let e=L.open.filter(n=>ut.includes(n.name)),t={address:Y(),screen:L.layout.screen,actions:e};z(()=>localStorage.setItem(W(`left-${Z}`),JSON.stringify(t)),void 0)}function on(){let e=z(()=>JSON.parse(localStorage.getItem(W(`left-${Z}`))||"null"),null);e&&e.address===Y()&&Array.isArray(e.actions)&&(G={screen:String(e.screen||""),actions:e.actions})}function Y(){if(location.hash.length>1)return location.hash.slice(1);let e=new URLSearchParams(location.search);for(let t of["lab","practice"])if(e.has(t))return`${t}=${encodeURIComponent(e.get(t)||"")}`;return""}async function an(){if(navigator.locks){for(let e=1;e<100;e++)if(await new Promise(n=>{navigator.locks.request(W(`page-${e}`),{ifAvailable:!0},s=>(n(!!s),s?new Promise(()=>{}):void 0))})){Z=String(e);return}}}async function ln(){let{serviceWorker:e}=navigator;if(!e)return;let t=await e.register("service-worker.js",{updateViaCache:"none"});!e.controller&&!t.active&&await new Promise(s=>{e.addEventListener("controllerchange",()=>s(null),{once:!0}),setTimeout(s,Zt,null)});let n=()=>{!t.waiting||!e.controller||M("newer","A newer version of this page is here.",{button:"Use it now",press:()=>{e.addEventListener("controllerchange",()=>location.reload(),{once:!0}),t.waiting?.postMessage("replace")}})};n(),t.addEventListener("updatefound",()=>{t.installing?.addEventListener("statechange",n)}),e.addEventListener("message",({data:s})=>{s==="complete"&&(T("background").textContent="Kept in this browser: this page opens without a network too.")})}function dt(){R=new Worker("worker.js",{type:"module"}),R.addEventListener("message",({data:t})=>cn(t.kind,t.text)),R.addEventListener("error",t=>{Se(`Python could not be started (${t.message||"its files were not found"}).`,"Look whether the network is there.")});let e={session:Z,base:ct,kept:nn(),fragment:Y(),screen:G.screen};R.postMessage({kind:"start",given:e})}function un(e){L&&(G={screen:L.layout.screen,actions:[]},R?.terminate(),M("silent",""),M("restart",e),dt())}function cn(e,t){switch(e){case"bytes":return xe((1-Qt)*Math.min(t/tn,1));case"stage":return xe(Number(T("bar").getAttribute("aria-valuenow"))/100,t);case"ready":return fn();case"answer":L?.receive(JSON.parse(t)),be&&pn();return;case"kept":return sn(JSON.parse(t));case"opened":return dn(JSON.parse(t));case"waits":return M("waits",JSON.parse(t));case"loading":T("background").textContent=`${t} is being loaded in the background.`;return;case"missing":return T("background").textContent="",M("missing",`${t} Screens that need it wait. Look whether the network is there.`,{alarm:!0,button:"Try again",press:()=>R?.postMessage({kind:"rest"})});case"complete":T("background").textContent="",navigator.serviceWorker?.controller?.postMessage("complete");return;case"failed":return Se(`Python stopped: ${t}.`,"What you typed is kept. Look whether the network is there.");default:return}}function dn({title:e,problem:t}){document.title=`${e} – stoichkit`,M("address",t&&`${t} The lab shown is another one.`,{alarm:!0,button:"Close"})}function fn(){be=!0,L?(G.actions=L.renew(),M("restart","")):(L=at(T("root"),e=>R?.postMessage({kind:"act",given:e})).link,L.silence=Xt,L.followers.push(hn),z(()=>localStorage.removeItem(W(`left-${Z}`)),void 0));for(let e of G.actions)ut.includes(e.name)&&L.act(e.name,e.arguments);we&&L.act("show",{id:"readings"}),we=!1}function pn(){be=!1,T("loading").hidden=!0,setTimeout(()=>R?.postMessage({kind:"rest"}),50)}var ve=null;function hn(){let e=()=>!!L?.open.some(t=>t.name==="press"&&String(t.arguments.id).endsWith(":stop"));e()&&!ve&&(ve=setTimeout(()=>{ve=null,e()&&lt()},Yt)),M("silent",L?.silent?"This takes long.":"",{button:"Stop it",press:lt})}function lt(){we=!0,un("Python was stopped, and is started again with all that you typed.")}function _n(e){let t=e.name.slice(e.name.lastIndexOf(".")).toLowerCase(),i=[...document.querySelectorAll("#root input[type=file]")].find(r=>(r.getAttribute("accept")||"").split(",").includes(t))?.getAttribute("data-control")||(t===".toml"?"upload":"");return i&&L?ge(L,i,e):M("file",`No part of this screen takes a file such as ${e.name}. A lab is a .toml file; class files belong to the screen Class.`,{alarm:!0,button:"Close"})}function $n(){addEventListener("dragover",e=>{e.preventDefault(),document.body.classList.add("over")}),addEventListener("dragleave",()=>document.body.classList.remove("over")),addEventListener("drop",e=>{e.preventDefault(),document.body.classList.remove("over");let t=e.dataTransfer?.files[0];t&&_n(t)}),addEventListener("hashchange",()=>{!L||!Y()||(R?.postMessage({kind:"open",given:{fragment:Y(),screen:""}}),L.act("ready"))}),addEventListener("pagehide",rn)}async function mn(){return"WebAssembly"in window&&"Worker"in window&&"DecompressionStream"in window?(xe(0,"Python is being loaded."),$n(),await an(),on(),await ln().catch(()=>{}),dt()):Se("This browser cannot run Python: it is too old for it.","Use a current one, or a notebook.")}mn();
