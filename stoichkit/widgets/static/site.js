var oe,g,He,G,Be,Ee,ht,se={},We=[],_t=/acit|ex(?:s|g|n|p|$)|rph|grid|ows|mnc|ntw|ine[ch]|zoo|^ord|itera/i;function O(e,t){for(var n in t)e[n]=t[n];return e}function qe(e){var t=e.parentNode;t&&t.removeChild(e)}function Fe(e,t,n){var s,i,r,a={};for(r in t)r=="key"?s=t[r]:r=="ref"?i=t[r]:a[r]=t[r];if(arguments.length>2&&(a.children=arguments.length>3?oe.call(arguments,2):n),typeof e=="function"&&e.defaultProps!=null)for(r in e.defaultProps)a[r]===void 0&&(a[r]=e.defaultProps[r]);return te(e,a,s,i,null)}function te(e,t,n,s,i){var r={type:e,props:t,key:n,ref:s,__k:null,__:null,__b:0,__e:null,__d:void 0,__c:null,__h:null,constructor:void 0,__v:i??++He};return g.vnode!=null&&g.vnode(r),r}function ae(e){return e.children}function H(e,t){this.props=e,this.context=t}function z(e,t){if(t==null)return e.__?z(e.__,e.__.__k.indexOf(e)+1):null;for(var n;t<e.__k.length;t++)if((n=e.__k[t])!=null&&n.__e!=null)return n.__e;return typeof e.type=="function"?z(e):null}function je(e){var t,n;if((e=e.__)!=null&&e.__c!=null){for(e.__e=e.__c.base=null,t=0;t<e.__k.length;t++)if((n=e.__k[t])!=null&&n.__e!=null){e.__e=e.__c.base=n.__e;break}return je(e)}}function ke(e){(!e.__d&&(e.__d=!0)&&G.push(e)&&!re.__r++||Ee!==g.debounceRendering)&&((Ee=g.debounceRendering)||Be)(re)}function re(){for(var e;re.__r=G.length;)e=G.sort(function(t,n){return t.__v.__b-n.__v.__b}),G=[],e.some(function(t){var n,s,i,r,a,u;t.__d&&(a=(r=(n=t).__v).__e,(u=n.__P)&&(s=[],(i=O({},r)).__v=r.__v+1,_e(u,r,i,n.__n,u.ownerSVGElement!==void 0,r.__h!=null?[a]:null,s,a??z(r),r.__h),Ke(s,r),r.__e!=a&&je(r)))})}function ze(e,t,n,s,i,r,a,u,d,h){var o,w,p,_,x,P,b,c=s&&s.__k||We,$=c.length;for(n.__k=[],o=0;o<t.length;o++)if((_=n.__k[o]=(_=t[o])==null||typeof _=="boolean"?null:typeof _=="string"||typeof _=="number"||typeof _=="bigint"?te(null,_,null,null,_):Array.isArray(_)?te(ae,{children:_},null,null,null):_.__b>0?te(_.type,_.props,_.key,null,_.__v):_)!=null){if(_.__=n,_.__b=n.__b+1,(p=c[o])===null||p&&_.key==p.key&&_.type===p.type)c[o]=void 0;else for(w=0;w<$;w++){if((p=c[w])&&_.key==p.key&&_.type===p.type){c[w]=void 0;break}p=null}_e(e,_,p=p||se,i,r,a,u,d,h),x=_.__e,(w=_.ref)&&p.ref!=w&&(b||(b=[]),p.ref&&b.push(p.ref,null,_),b.push(w,_.__c||x,_)),x!=null?(P==null&&(P=x),typeof _.type=="function"&&_.__k!=null&&_.__k===p.__k?_.__d=d=Je(_,d,e):d=Ve(e,_,p,c,x,d),h||n.type!=="option"?typeof n.type=="function"&&(n.__d=d):e.value=""):d&&p.__e==d&&d.parentNode!=e&&(d=z(p))}for(n.__e=P,o=$;o--;)c[o]!=null&&(typeof n.type=="function"&&c[o].__e!=null&&c[o].__e==n.__d&&(n.__d=z(s,o+1)),Ye(c[o],c[o]));if(b)for(o=0;o<b.length;o++)Ge(b[o],b[++o],b[++o])}function Je(e,t,n){var s,i;for(s=0;s<e.__k.length;s++)(i=e.__k[s])&&(i.__=e,t=typeof i.type=="function"?Je(i,t,n):Ve(n,i,i,e.__k,i.__e,t));return t}function Ve(e,t,n,s,i,r){var a,u,d;if(t.__d!==void 0)a=t.__d,t.__d=void 0;else if(n==null||i!=r||i.parentNode==null)e:if(r==null||r.parentNode!==e)e.appendChild(i),a=null;else{for(u=r,d=0;(u=u.nextSibling)&&d<s.length;d+=2)if(u==i)break e;e.insertBefore(i,r),a=r}return a!==void 0?a:i.nextSibling}function Le(e,t,n){t[0]==="-"?e.setProperty(t,n):e[t]=n==null?"":typeof n!="number"||_t.test(t)?n:n+"px"}function ee(e,t,n,s,i){var r;e:if(t==="style")if(typeof n=="string")e.style.cssText=n;else{if(typeof s=="string"&&(e.style.cssText=s=""),s)for(t in s)n&&t in n||Le(e.style,t,"");if(n)for(t in n)s&&n[t]===s[t]||Le(e.style,t,n[t])}else if(t[0]==="o"&&t[1]==="n")r=t!==(t=t.replace(/Capture$/,"")),t=t.toLowerCase()in e?t.toLowerCase().slice(2):t.slice(2),e.l||(e.l={}),e.l[t+r]=n,n?s||e.addEventListener(t,r?De:Ae,r):e.removeEventListener(t,r?De:Ae,r);else if(t!=="dangerouslySetInnerHTML"){if(i)t=t.replace(/xlink[H:h]/,"h").replace(/sName$/,"s");else if(t!=="href"&&t!=="list"&&t!=="form"&&t!=="tabIndex"&&t!=="download"&&t in e)try{e[t]=n??"";break e}catch{}typeof n=="function"||(n!=null&&(n!==!1||t[0]==="a"&&t[1]==="r")?e.setAttribute(t,n):e.removeAttribute(t))}}function Ae(e){this.l[e.type+!1](g.event?g.event(e):e)}function De(e){this.l[e.type+!0](g.event?g.event(e):e)}function _e(e,t,n,s,i,r,a,u,d){var h,o,w,p,_,x,P,b,c,$,y,m=t.type;if(t.constructor!==void 0)return null;n.__h!=null&&(d=n.__h,u=t.__e=n.__e,t.__h=null,r=[u]),(h=g.__b)&&h(t);try{e:if(typeof m=="function"){if(b=t.props,c=(h=m.contextType)&&s[h.__c],$=h?c?c.props.value:h.__:s,n.__c?P=(o=t.__c=n.__c).__=o.__E:("prototype"in m&&m.prototype.render?t.__c=o=new m(b,$):(t.__c=o=new H(b,$),o.constructor=m,o.render=mt),c&&c.sub(o),o.props=b,o.state||(o.state={}),o.context=$,o.__n=s,w=o.__d=!0,o.__h=[]),o.__s==null&&(o.__s=o.state),m.getDerivedStateFromProps!=null&&(o.__s==o.state&&(o.__s=O({},o.__s)),O(o.__s,m.getDerivedStateFromProps(b,o.__s))),p=o.props,_=o.state,w)m.getDerivedStateFromProps==null&&o.componentWillMount!=null&&o.componentWillMount(),o.componentDidMount!=null&&o.__h.push(o.componentDidMount);else{if(m.getDerivedStateFromProps==null&&b!==p&&o.componentWillReceiveProps!=null&&o.componentWillReceiveProps(b,$),!o.__e&&o.shouldComponentUpdate!=null&&o.shouldComponentUpdate(b,o.__s,$)===!1||t.__v===n.__v){o.props=b,o.state=o.__s,t.__v!==n.__v&&(o.__d=!1),o.__v=t,t.__e=n.__e,t.__k=n.__k,t.__k.forEach(function(S){S&&(S.__=t)}),o.__h.length&&a.push(o);break e}o.componentWillUpdate!=null&&o.componentWillUpdate(b,o.__s,$),o.componentDidUpdate!=null&&o.__h.push(function(){o.componentDidUpdate(p,_,x)})}o.context=$,o.props=b,o.state=o.__s,(h=g.__r)&&h(t),o.__d=!1,o.__v=t,o.__P=e,h=o.render(o.props,o.state,o.context),o.state=o.__s,o.getChildContext!=null&&(s=O(O({},s),o.getChildContext())),w||o.getSnapshotBeforeUpdate==null||(x=o.getSnapshotBeforeUpdate(p,_)),y=h!=null&&h.type===ae&&h.key==null?h.props.children:h,ze(e,Array.isArray(y)?y:[y],t,n,s,i,r,a,u,d),o.base=t.__e,t.__h=null,o.__h.length&&a.push(o),P&&(o.__E=o.__=null),o.__e=!1}else r==null&&t.__v===n.__v?(t.__k=n.__k,t.__e=n.__e):t.__e=$t(n.__e,t,n,s,i,r,a,d);(h=g.diffed)&&h(t)}catch(S){t.__v=null,(d||r!=null)&&(t.__e=u,t.__h=!!d,r[r.indexOf(u)]=null),g.__e(S,t,n)}}function Ke(e,t){g.__c&&g.__c(t,e),e.some(function(n){try{e=n.__h,n.__h=[],e.some(function(s){s.call(n)})}catch(s){g.__e(s,n.__v)}})}function $t(e,t,n,s,i,r,a,u){var d,h,o,w=n.props,p=t.props,_=t.type,x=0;if(_==="svg"&&(i=!0),r!=null){for(;x<r.length;x++)if((d=r[x])&&(d===e||(_?d.localName==_:d.nodeType==3))){e=d,r[x]=null;break}}if(e==null){if(_===null)return document.createTextNode(p);e=i?document.createElementNS("http://www.w3.org/2000/svg",_):document.createElement(_,p.is&&p),r=null,u=!1}if(_===null)w===p||u&&e.data===p||(e.data=p);else{if(r=r&&oe.call(e.childNodes),h=(w=n.props||se).dangerouslySetInnerHTML,o=p.dangerouslySetInnerHTML,!u){if(r!=null)for(w={},x=0;x<e.attributes.length;x++)w[e.attributes[x].name]=e.attributes[x].value;(o||h)&&(o&&(h&&o.__html==h.__html||o.__html===e.innerHTML)||(e.innerHTML=o&&o.__html||""))}if((function(P,b,c,$,y){var m;for(m in c)m==="children"||m==="key"||m in b||ee(P,m,null,c[m],$);for(m in b)y&&typeof b[m]!="function"||m==="children"||m==="key"||m==="value"||m==="checked"||c[m]===b[m]||ee(P,m,b[m],c[m],$)})(e,p,w,i,u),o)t.__k=[];else if(x=t.props.children,ze(e,Array.isArray(x)?x:[x],t,n,s,i&&_!=="foreignObject",r,a,r?r[0]:n.__k&&z(n,0),u),r!=null)for(x=r.length;x--;)r[x]!=null&&qe(r[x]);u||("value"in p&&(x=p.value)!==void 0&&(x!==e.value||_==="progress"&&!x)&&ee(e,"value",x,w.value,!1),"checked"in p&&(x=p.checked)!==void 0&&x!==e.checked&&ee(e,"checked",x,w.checked,!1))}return e}function Ge(e,t,n){try{typeof e=="function"?e(t):e.current=t}catch(s){g.__e(s,n)}}function Ye(e,t,n){var s,i;if(g.unmount&&g.unmount(e),(s=e.ref)&&(s.current&&s.current!==e.__e||Ge(s,null,t)),(s=e.__c)!=null){if(s.componentWillUnmount)try{s.componentWillUnmount()}catch(r){g.__e(r,t)}s.base=s.__P=null}if(s=e.__k)for(i=0;i<s.length;i++)s[i]&&Ye(s[i],t,typeof e.type!="function");n||e.__e==null||qe(e.__e),e.__e=e.__d=void 0}function mt(e,t,n){return this.constructor(e,n)}function $e(e,t,n){var s,i,r;g.__&&g.__(e,t),i=(s=typeof n=="function")?null:n&&n.__k||t.__k,r=[],_e(t,e=(!s&&n||t).__k=Fe(ae,null,[e]),i||se,se,t.ownerSVGElement!==void 0,!s&&n?[n]:i?null:t.firstChild?oe.call(t.childNodes):null,r,!s&&n?n:i?i.__e:t.firstChild,s),Ke(r,e)}oe=We.slice,g={__e:function(e,t){for(var n,s,i;t=t.__;)if((n=t.__c)&&!n.__)try{if((s=n.constructor)&&s.getDerivedStateFromError!=null&&(n.setState(s.getDerivedStateFromError(e)),i=n.__d),n.componentDidCatch!=null&&(n.componentDidCatch(e),i=n.__d),i)return n.__E=n}catch(r){e=r}throw e}},He=0,H.prototype.setState=function(e,t){var n;n=this.__s!=null&&this.__s!==this.state?this.__s:this.__s=O({},this.state),typeof e=="function"&&(e=e(O({},n),this.props)),e&&O(n,e),e!=null&&this.__v&&(t&&this.__h.push(t),ke(this))},H.prototype.forceUpdate=function(e){this.__v&&(this.__e=!0,e&&this.__h.push(e),ke(this))},H.prototype.render=ae,G=[],Be=typeof Promise=="function"?Promise.prototype.then.bind(Promise.resolve()):setTimeout,re.__r=0,ht=0;var Y,T,Pe,ie=0,pe=[],Te=g.__b,Me=g.__r,Ne=g.diffed,Ue=g.__c,Ie=g.unmount;function le(e,t){g.__h&&g.__h(T,e,ie||t),ie=0;var n=T.__H||(T.__H={__:[],__h:[]});return e>=n.__.length&&n.__.push({}),n.__[e]}function F(e){return ie=1,gt(Qe,e)}function gt(e,t,n){var s=le(Y++,2);return s.t=e,s.__c||(s.__=[n?n(t):Qe(void 0,t),function(i){var r=s.t(s.__[0],i);s.__[0]!==r&&(s.__=[r,s.__[1]],s.__c.setState({}))}],s.__c=T),s.__}function Ze(e,t){var n=le(Y++,3);!g.__s&&me(n.__H,t)&&(n.__=e,n.__H=t,T.__H.__h.push(n))}function Xe(e,t){var n=le(Y++,4);!g.__s&&me(n.__H,t)&&(n.__=e,n.__H=t,T.__h.push(n))}function B(e){return ie=5,yt(function(){return{current:e}},[])}function yt(e,t){var n=le(Y++,7);return me(n.__H,t)&&(n.__=e(),n.__H=t,n.__h=e),n.__}function vt(){pe.forEach(function(e){if(e.__P)try{e.__H.__h.forEach(ne),e.__H.__h.forEach(he),e.__H.__h=[]}catch(t){e.__H.__h=[],g.__e(t,e.__v)}}),pe=[]}g.__b=function(e){T=null,Te&&Te(e)},g.__r=function(e){Me&&Me(e),Y=0;var t=(T=e.__c).__H;t&&(t.__h.forEach(ne),t.__h.forEach(he),t.__h=[])},g.diffed=function(e){Ne&&Ne(e);var t=e.__c;t&&t.__H&&t.__H.__h.length&&(pe.push(t)!==1&&Pe===g.requestAnimationFrame||((Pe=g.requestAnimationFrame)||function(n){var s,i=function(){clearTimeout(r),Re&&cancelAnimationFrame(s),setTimeout(n)},r=setTimeout(i,100);Re&&(s=requestAnimationFrame(i))})(vt)),T=void 0},g.__c=function(e,t){t.some(function(n){try{n.__h.forEach(ne),n.__h=n.__h.filter(function(s){return!s.__||he(s)})}catch(s){t.some(function(i){i.__h&&(i.__h=[])}),t=[],g.__e(s,n.__v)}}),Ue&&Ue(e,t)},g.unmount=function(e){Ie&&Ie(e);var t=e.__c;if(t&&t.__H)try{t.__H.__.forEach(ne)}catch(n){g.__e(n,t.__v)}};var Re=typeof requestAnimationFrame=="function";function ne(e){var t=T;typeof e.__c=="function"&&e.__c(),T=t}function he(e){var t=T;e.__c=e.__(),T=t}function me(e,t){return!e||e.length!==t.length||t.some(function(n,s){return n!==e[s]})}function Qe(e,t){return typeof t=="function"?t(e):t}var et=function(e,t,n,s){var i;t[0]=0;for(var r=1;r<t.length;r++){var a=t[r++],u=t[r]?(t[0]|=a?1:2,n[t[r++]]):t[++r];a===3?s[0]=u:a===4?s[1]=Object.assign(s[1]||{},u):a===5?(s[1]=s[1]||{})[t[++r]]=u:a===6?s[1][t[++r]]+=u+"":a?(i=e.apply(u,et(e,u,n,["",null])),s.push(i),u[0]?t[0]|=2:(t[r-2]=0,t[r]=i)):s.push(u)}return s},Oe=new Map,l=function(e){var t=Oe.get(this);return t||(t=new Map,Oe.set(this,t)),(t=et(this,t.get(e)||(t.set(e,t=(function(n){for(var s,i,r=1,a="",u="",d=[0],h=function(p){r===1&&(p||(a=a.replace(/^\s*\n\s*|\s*\n\s*$/g,"")))?d.push(0,p,a):r===3&&(p||a)?(d.push(3,p,a),r=2):r===2&&a==="..."&&p?d.push(4,p,0):r===2&&a&&!p?d.push(5,0,!0,a):r>=5&&((a||!p&&r===5)&&(d.push(r,0,a,i),r=6),p&&(d.push(r,p,0,i),r=6)),a=""},o=0;o<n.length;o++){o&&(r===1&&h(),h(o));for(var w=0;w<n[o].length;w++)s=n[o][w],r===1?s==="<"?(h(),d=[d],r=3):a+=s:r===4?a==="--"&&s===">"?(r=1,a=""):a=s+a[0]:u?s===u?u="":a+=s:s==='"'||s==="'"?u=s:s===">"?(h(),r=1):r&&(s==="="?(r=5,i=a,a=""):s==="/"&&(r<5||n[o][w+1]===">")?(h(),r===3&&(d=d[0]),r=d,(d=d[0]).push(2,0,r),r=0):s===" "||s==="	"||s===`
`||s==="\r"?(h(),r=2):a+=s),r===3&&a==="!--"&&(r=4,d=d[0])}return h(),d})(e)),t),arguments,[])).length>1?t:t[0]}.bind(Fe);var wt=0;function I(e){let t=B("");return t.current||(t.current=`stoichkit-${e}-${++wt}`),t.current}var W=.5522847498307936,tt=e=>/^[a-z]+$/.test(e)?`var(--pic-${e})`:e;function nt(e){let t=[];for(let n=0;n<e.length;n+=2)t.push(`${e[n]},${e[n+1]}`);return t.join(" ")}function xt([e,t,n,s,i,r]){let u=[[1,0],[1,W],[W,1],[0,1],[-W,1],[-1,W],[-1,0],[-1,-W],[-W,-1],[0,-1],[W,-1],[1,-W],[1,0]].map(([d,h])=>`${(e+d*n+h*i).toFixed(2)} ${(t+d*s+h*r).toFixed(2)}`);return`M${u[0]} C${u.slice(1,4).join(" ")} C${u.slice(4,7).join(" ")} C${u.slice(7,10).join(" ")} C${u.slice(10,13).join(" ")}Z`}function bt({item:e}){let t=tt(e.ink);switch(e.is){case"line":return l`<polyline points=${nt(e.at)} style=${`fill:none;stroke:${t}`} stroke-width=${e.width} stroke-dasharray=${e.dashes?e.dashes.join(" "):void 0} />`;case"area":return l`<polygon points=${nt(e.at)} style=${`fill:${t};fill-opacity:${e.opacity};${e.edge?`stroke:${tt(e.edge)};stroke-width:0.9`:""}`} />`;case"ellipse":return l`<path d=${xt(e.at)} style=${`fill:${e.opacity?t:"none"};fill-opacity:${e.opacity};stroke:${t}`} stroke-width=${e.width} />`;case"circle":return l`<circle cx=${e.at[0]} cy=${e.at[1]} r=${e.size} style=${`fill:${t};stroke:var(--pic-paper)`} stroke-width="0.8" />`;case"diamond":{let[n,s]=e.at,i=e.size;return l`<path d=${`M${n} ${s-i}L${n+i} ${s}L${n} ${s+i}L${n-i} ${s}Z`} style=${`fill:${t};stroke:var(--pic-paper)`} stroke-width="0.8" />`}case"words":{let[n,s]=e.at;return l`<text x=${n} y=${s} font-size=${e.size} text-anchor=${e.anchor==="start"?void 0:e.anchor} font-weight=${e.bold?"bold":void 0} style=${`fill:${t}`} transform=${e.angle?`rotate(${e.angle} ${n} ${s})`:void 0}>${e.text}</text>`}default:return null}}function st({block:e,link:t}){let n=B(null),s=B(null),[i,r]=F(""),[a,u]=F(null),[d,h,o,w]=a&&a.limits||e.limits,{width:p,height:_}=e,x=([f,v],[E,C,k,N]=e.limits)=>[(f-E)/(C-E)*p,_-(v-k)/(N-k)*_],P=f=>`move ${e.id} ${f.name}`;Ze(()=>{if(!e.sizes||!n.current||typeof ResizeObserver>"u")return;let f=0,v=0,E=()=>{let k=Math.floor(n.current?n.current.clientWidth:0);k<100||k>=v&&k-v<9||(v=k,t.act("pick",{id:`${e.id}:width`,to:k},{key:`width ${e.id}`}))},C=new ResizeObserver(()=>{clearTimeout(f),f=setTimeout(E,120)});return C.observe(n.current),()=>C.disconnect()},[e.id,e.sizes]);let b=f=>{let v=s.current.getBoundingClientRect(),E=d+(f.clientX-v.left)/v.width*(h-d),C=w-(f.clientY-v.top)/v.height*(w-o);return[E,C]},c=(f,v,E)=>t.act("move",{id:`${e.id}:move`,spot:f.name,x:v,y:E},{key:P(f),text:[v,E]}),$=(f,v)=>{v.preventDefault(),t.act("move",{id:`${e.id}:move`,spot:f.name,x:f.x,y:f.y})},y=f=>{let v=e.spots.find(k=>k.drag);if(!e.picks||!v||f.target.closest(".spot"))return;let[E,C]=b(f);E<d||E>h||C<o||C>w||(c(v,E,C),t.act("left",{id:e.id}))},m=f=>v=>{!f.drag&&e.picks&&(v.currentTarget.focus(),$(f,v)),!(!f.drag||!e.moves)&&(v.preventDefault(),v.currentTarget.focus(),v.currentTarget.setPointerCapture(v.pointerId),u({name:f.name,at:[f.x,f.y],limits:e.limits}))},S=f=>v=>{if(!a||!a.limits||a.name!==f.name)return;let[E,C]=b(v);u({...a,at:[E,C]}),c(f,E,C)},A=()=>{a&&t.act("left",{id:e.id}),u(null)},K=f=>v=>{if(!f.drag&&e.picks&&(v.key==="Enter"||v.key===" ")&&$(f,v),!f.drag||!e.moves)return;let E=v.shiftKey?20:100,C=(h-d)/E,k=(w-o)/E,N={ArrowLeft:[-C,0],ArrowRight:[C,0],ArrowUp:[0,k],ArrowDown:[0,-k]}[v.key];if(!N)return;v.preventDefault();let[Q,de]=a&&a.name===f.name?a.at:[f.x,f.y],fe=[Q+N[0],de+N[1]];u({name:f.name,at:fe,limits:null}),c(f,fe[0],fe[1])};return l`<figure class=${e.stale?"picture stale":"picture"} ref=${n}>
    <svg ref=${s} class=${e.picks?"picks":""} onClick=${y} viewBox=${`0 0 ${p} ${_}`} style=${`width:${Math.round(p*1.5)}px`} role="group" aria-label=${e.title}>
      <g aria-hidden="true">${e.items.map((f,v)=>l`<${bt} key=${v} item=${f} />`)}</g>
      ${e.spots.map((f,v)=>{let E=a&&a.name===f.name,C=t.text(P(f),[f.x,f.y]),[k,N]=E?x(a.at,a.limits||e.limits):x(C),Q=e.moves&&(f.drag||e.picks),de=Q?`${f.words}. ${f.drag?"Arrow keys move it":"Enter takes it"}`:f.words;return l`<g key=${v} class=${E?"spot moving":"spot"} tabindex="0" role=${Q?"button":"img"} aria-label=${de}
          onPointerDown=${m(f)} onPointerMove=${S(f)} onPointerUp=${A} onPointerCancel=${A}
          onKeyDown=${K(f)} onMouseEnter=${()=>r(f.words)} onMouseLeave=${()=>r("")}
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
  </figure>`}function St(e){return e.replace(/\r\n?/g,`
`).replace(/\n+$/,"").split(`
`).map(n=>n.split("	"))}function rt({block:e,link:t}){let n=B(null),s=B(null),i=I("sheet"),r=`grow ${e.id}`,a=Number(t.text(r,0))-e.rows.length,u=[...e.rows,...Array.from({length:Math.max(a,0)},()=>({name:"",cells:e.columns.map(()=>({text:"",refusal:"",mark:"",note:"",lines:0})),result:"",refusal:""}))],d=(c,$)=>n.current&&n.current.querySelector(`[data-at="${c}:${$}"]`),h=(c,$)=>{let y=d(c,$);return y?(y.focus(),y.select&&y.select(),!0):!1};Xe(()=>{s.current&&h(...s.current)&&(s.current=null)});let o=(c,$)=>y=>{let m=y.target.value,S=`cell ${e.id} ${c} ${$}`;t.act("cells",{id:e.id,row:c,column:$,to:[[m]]},{key:S,text:m})},w=(c,$)=>y=>{let m=y.clipboardData&&y.clipboardData.getData("text/plain"),S=m?St(m):[];S.length<2&&(!S[0]||S[0].length<2)||(y.preventDefault(),t.act("cells",{id:e.id,row:c,column:$,to:S}))},p=(c,$,y)=>m=>{let{key:S,target:A}=m,K=A.selectionStart===0&&A.selectionEnd===0,f=A.value.length,v=A.selectionStart===f&&A.selectionEnd===f,E=A.selectionStart===0&&A.selectionEnd===f,C=null;if(S==="Enter"&&!(y&&m.altKey)?C=[c+(m.shiftKey?-1:1),$]:S==="ArrowDown"?C=[c+1,$]:S==="ArrowUp"?C=[c-1,$]:S==="ArrowLeft"&&(K||E)?C=[c,$-1]:S==="ArrowRight"&&(v||E)&&(C=[c,$+1]),!C||(m.preventDefault(),h(C[0],C[1])))return;let k=u.length;if(S!=="Enter"||C[0]<k||!e.grows)return;s.current=[k,0];let N={id:e.id,row:k,column:0,to:[[""]]};t.act("cells",N,{key:r,text:k+1})},_=()=>t.act("left",{id:e.id}),x=(c,$,y,m)=>{let S=`${m}, ${e.columns[$].label}`,A=t.text(`cell ${e.id} ${c} ${$}`,y.text),K=y.refusal||y.note;return l`<td key=${$} class=${y.refusal?"refused":y.mark.replace(" ","-")}>
      <input
        type="text"
        data-at=${`${c}:${$}`}
        data-control=${`${e.id} ${c} ${$}`}
        value=${A}
        style=${`min-width:${Math.min(String(A).length,30)+3}ch`}
        aria-label=${y.mark?`${S}, ${y.mark}`:S}
        aria-invalid=${y.refusal?"true":void 0}
        aria-describedby=${y.refusal?`${i}-${c}`:void 0}
        title=${K||void 0}
        inputmode="decimal"
        autocomplete="off"
        spellcheck=${!1}
        onInput=${o(c,$)}
        onPaste=${w(c,$)}
        onKeyDown=${p(c,$,y.lines)}
        onBlur=${_}
      />
      ${y.mark==="what if"?l`<span class="was">${y.note}</span>`:null}
    </td>`},P=(c,$)=>{let m=c.cells.map((S,A)=>[e.columns[A].label,S.refusal]).filter(([,S])=>S);return m.length?l`<tr key=${`why ${$}`} class="why">
      <td colspan=${e.columns.length+(e.result?2:1)} id=${`${i}-${$}`}>
        ${m.map(([S,A])=>l`<p key=${S}>${S}: ${A}</p>`)}
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
          </tr>`,P(c,$)])}
      </tbody>
    </table>
  </div>`}function j({blocks:e,link:t}){let n={};return(e||[]).map(s=>{let i=Gt[s.kind];if(!i)return null;n[s.kind]=(n[s.kind]||0)+1;let r=s.id||`${s.kind}${n[s.kind]}`;return l`<${i} key=${r} block=${s} link=${t} />`})}function Ct({block:e}){return e.level===2?l`<h2>${e.text}</h2>`:l`<h3>${e.text}</h3>`}var ye={warning:"!",refusal:"!",diagnosis:"✓",trust:"⇔",good:"✓"};function Et({block:e}){let t=ye[e.role],n=e.spoken||e.role==="status"?"status":void 0;if(t)return l`<p class=${`line ${e.role}`} role=${n}>
      <span class="sign" aria-hidden="true">${t}</span><span>${e.text}</span>
    </p>`;let s=e.role==="status"?"note":e.role;return l`<p class=${s} role=${n}>${e.text}</p>`}function kt({block:e,link:t}){let n=I("field"),s=`set ${e.id}`,i=t.text(s,e.text),r=w=>{let p=w.target.value;t.act("set",{id:e.id,to:p},{key:s,text:p})},a=()=>t.act("left",{id:e.id}),u=w=>{w.key!=="Enter"||!e.enter||e.lines||(w.preventDefault(),t.act("press",{id:e.enter}))},d=e.refusal||e.note,h={id:n,"data-control":e.id,value:i,onInput:r,onBlur:a,onKeyDown:u,spellcheck:!1,autocomplete:"off","aria-invalid":e.refusal||e.refused?"true":void 0,"aria-describedby":d?`${n}-note`:void 0,"aria-label":e.bare?e.label:void 0,style:e.width?`width:${e.width+3}ch`:""},o=e.options&&e.options.length?`${n}-list`:void 0;return l`<div class=${e.bare?"field bare":"field"}>
    ${e.bare?null:l`<label for=${n}>${e.label}</label>`}
    ${e.lines?l`<textarea rows=${e.lines} ...${h}></textarea>`:l`<input type="text" list=${o} ...${h} />`}
    ${o?l`<datalist id=${o}>
          ${e.options.map(([w,p])=>l`<option value=${w}>${p}</option>`)}
        </datalist>`:null}
    ${d?l`<span id=${`${n}-note`} class=${e.refusal?"refused":"hint"}>${d}</span>`:null}
  </div>`}function Lt({block:e,link:t}){let n=I("choice"),s=`set ${e.id}`,i=t.text(s,e.value),r=a=>{let u=a.target.value;t.act("set",{id:e.id,to:u},{key:s,text:u})};return l`<div class=${e.bare?"field bare":"field"}>
    ${e.bare?null:l`<label for=${n}>${e.label}</label>`}
    <select id=${n} data-control=${e.id} onChange=${r} aria-label=${e.bare?e.label:void 0}>
      ${e.options.map(([a,u])=>l`<option value=${a} selected=${a===i}>${u}</option>`)}
    </select>
  </div>`}function At({block:e,link:t}){let n=`tick ${e.id}`,s=t.text(n,e.on),i=r=>{let a=r.target.checked;t.act("tick",{id:e.id,to:a},{key:n,text:a})};return l`<label class="tick"
    ><input type="checkbox" data-control=${e.id} checked=${s} onChange=${i} /> ${e.label}</label
  >`}function Dt({block:e,link:t}){return l`<button
    type="button"
    class=${`button ${e.look}`}
    data-control=${e.id}
    disabled=${!e.enabled}
    aria-label=${e.spoken||void 0}
    title=${e.spoken||void 0}
    onClick=${()=>t.act("press",{id:e.id})}
  >
    ${e.label}
  </button>`}function Pt({block:e,link:t}){return l`<div class=${e.even?"row even":"row"}><${j} blocks=${e.blocks} link=${t} /></div>`}function Tt({block:e,link:t}){let[n,s]=F(!1),i=I("chip");return l`<div class=${n?"chip open":"chip"}>
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
      ${n?l`<${j} blocks=${e.blocks} link=${t} />`:null}
    </div>
  </div>`}function Mt({block:e,link:t}){return l`<div class="sentence">
    ${e.parts.map((n,s)=>n.kind==="words"?l`<span key=${s}>${n.text}</span>`:l`<${j} key=${n.id||s} blocks=${[n]} link=${t} />`)}
  </div>`}function Nt({block:e,link:t}){let[n,s]=F(!!e.opened),i=I("more");return l`<div class="details">
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
      ${n?l`<${j} blocks=${e.blocks} link=${t} />`:null}
    </div>
  </div>`}function ot({block:e}){return l`<ul>
    ${e.items.map((t,n)=>l`<li key=${n}>${t}</li>`)}
  </ul>`}function at({block:e,link:t}){let n=s=>t.act("pick",{id:e.id,to:s});return l`<div class=${e.prose?"scroll prose":"scroll"} tabindex="0" role="group" aria-label=${e.caption||"table"}>
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
  </div>`}function Ut({block:e,link:t}){return l`<section class=${`verdict ${e.look.replace(" ","-")}`} aria-label="Verdict">
    <p class="headline" role="status">${e.headline}</p>
    <${j} blocks=${e.blocks} link=${t} />
  </section>`}function It({block:e}){return l`<ul class=${e.stale?"candidates stale":"candidates"} aria-label="Candidates">
    ${e.rows.map(t=>l`<li key=${t.name} class=${t.fits?"fits":"out"}>
        <span class="name">${t.name}</span>
        <span class="bar" aria-hidden="true"
          ><span style=${`width:${Math.max(100*t.share,t.share>0?.6:0)}%`}></span
        ></span>
        <span class="standing"
          >${[t.standing,t.p,t.yield].filter(Boolean).join(" · ")}</span
        >
      </li>`)}
  </ul>`}function Rt({block:e,link:t}){let n=I("step"),s=`step ${e.id}`,i=Number(t.text(s,e.value)),r=u=>t.act("step",{id:e.id,to:u},{key:s,text:u}),a=e.words.length-1;return l`<div class="step">
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
  </div>`}function Ot({block:e,link:t}){return l`<div class="progress">
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
  </div>`}function ve(e,t,n){let s=new FileReader;s.onload=()=>e.act("file",{id:t,name:n.name,base64:String(s.result).split(",")[1]||""}),s.readAsDataURL(n)}function Ht({block:e,link:t}){let n=I("file"),s=i=>{let r=i.target.files&&i.target.files[0];r&&ve(t,e.id,r),i.target.value=""};return l`<div class="field">
    <label for=${n}>${e.label}</label>
    <input id=${n} data-control=${e.id} type="file" accept=${e.accept} onChange=${s} />
  </div>`}function Bt({part:e}){return l`<p class="equation">
    ${e.sides.map((t,n)=>l`<span key=${n}>${n?"= ":""}${t}</span>`)}
    ${e.remark?l`<span class="hint">${e.remark}</span>`:null}
  </p>`}function Wt({part:e}){let t=`data:image/svg+xml;charset=utf-8,${encodeURIComponent(e.svg)}`;return l`<figure class="drawing">
    <img src=${t} alt=${e.alt_text} />
    ${e.caption?l`<figcaption>${e.caption}</figcaption>`:null}
  </figure>`}var qt=40;function Ft({part:e}){switch(e.kind){case"strong":return l`<p class="strong">${e.text}</p>`;case"subheading":return l`<h4>${e.text}</h4>`;case"list":return l`<${ot} block=${e} />`;case"table":return l`<${at} block=${{...e,prose:e.rows.some(t=>t.some(n=>n.length>qt))}} />`;case"equation":return l`<${Bt} part=${e} />`;case"picture":return l`<${Wt} part=${e} />`;case"field":return l`<p>${e.label}: ${e.value||"________________"}</p>`;default:return l`<p>${e.text}</p>`}}function jt({block:e}){return l`<article class="document">
    ${e.titled&&e.title?l`<h2>${e.title}</h2>`:null}
    ${e.opening.map((t,n)=>l`<p key=${n}>${t}</p>`)}
    ${e.sections.map((t,n)=>l`<section key=${n}>
        ${t.title?l`<h3>${t.title}</h3>`:null}
        ${t.parts.map((s,i)=>l`<${Ft} key=${i} part=${s} />`)}
      </section>`)}
  </article>`}function zt({block:e}){return l`<pre class="source" tabindex="0" role="region" aria-label=${e.label}>
${e.text}</pre
  >`}async function Jt(e){if(navigator.clipboard&&window.isSecureContext)return navigator.clipboard.writeText(e);let t=document.createElement("textarea");t.value=e,document.body.append(t),t.select();let n=document.execCommand("copy");if(t.remove(),!n)throw new Error("the browser refused")}function Vt({block:e}){let[t,n]=F("");return l`<div class="row">
    <button type="button" class="button" onClick=${()=>Jt(e.text).then(()=>n("Copied."),()=>n("The browser does not allow copying: select the text instead."))}>${e.label}</button>
    <span class="note" role="status">${t}</span>
  </div>`}var ge=class extends H{componentDidMount(){let{block:t,link:n}=this.props,s=Kt(t.place);s&&s!==t.text?n.act("set",{id:t.id,to:s}):t.text&&it(t.place,t.text)}componentDidUpdate(){let{block:t}=this.props;t.text&&it(t.place,t.text)}render(){return null}};function Kt(e){try{return window.localStorage.getItem(e)||""}catch{return""}}function it(e,t){try{window.localStorage.setItem(e,t)}catch{return}}var Gt={heading:Ct,words:Et,field:kt,choice:Lt,tick:At,button:Dt,row:Pt,chip:Tt,sentence:Mt,details:Nt,list:ot,table:at,verdict:Ut,candidates:It,step:Rt,progress:Ot,file:Ht,document:jt,picture:st,sheet:rt,source:zt,copy:Vt,kept:ge};var ue=class{constructor(t){this.send=t,this.page=Math.random().toString(36).slice(2)+Date.now().toString(36),this.number=0,this.seen=0,this.queue=[],this.under=null,this.local=new Map,this.regions={},this.drawn={},this.focus="",this.layout={screen:"",places:[],tabs:[]},this.said={text:"",role:""},this.alive=!1,this.settled=!1,this.silent=!1,this.silence="Python does not answer. If it was stopped, run the cell again: what you typed was kept.",this.followers=[],this.onFile=()=>{}}act(t,n={},s={}){let i={page:this.page,number:++this.number,name:t,arguments:n},r=s.key??"",a=this.queue[this.queue.length-1];r&&a&&a.key===r?a.action=i:this.queue.push({action:i,key:r}),r&&"text"in s&&this.local.set(r,{text:s.text,number:i.number}),this.settled=!1,this.pump(),this.tell()}pump(){if(this.under||!this.queue.length)return;let{action:t}=this.queue.shift(),n=setTimeout(()=>{this.silent=!0,this.tell()},6e3);this.under={action:t,number:t.number,timer:n},this.send(t)}receive(t){if(!t||typeof t!="object"||!t.layout)return;let n=t.seen&&t.seen[this.page]||0;if(n>=this.seen){if(t.layout.screen!==this.layout.screen){let s=this.regions.head;this.regions=s?{head:s}:{},this.drawn={}}this.layout=t.layout,this.said=t.said,this.focus=t.focus||this.focus}if(t.layout.screen===this.layout.screen)for(let[s,i]of Object.entries(t.regions))n>=(this.drawn[s]||0)&&(this.regions[s]=i,this.drawn[s]=n);this.alive=!0,this.silent=!1,this.seen=Math.max(this.seen,n);for(let[s,i]of this.local)i.number<=this.seen&&this.local.delete(s);this.under&&this.seen>=this.under.number&&(clearTimeout(this.under.timer),this.under=null,this.pump()),this.settled=!!t.settled&&n===this.seen&&!this.under;for(let s of t.files||[])this.onFile(s);this.tell()}get open(){let t=this.queue.map(n=>n.action);return this.under?[this.under.action,...t]:t}renew(){this.under&&clearTimeout(this.under.timer),this.under=null,this.queue=[],this.silent=!1,this.act("ready")}text(t,n){let s=this.local.get(t);return s?s.text:n}tell(){for(let t of this.followers)t()}};var we=class extends H{componentDidMount(){this.follow=()=>this.setState({}),this.props.link.followers.push(this.follow)}componentDidUpdate(){let{link:t}=this.props;if(!t.focus)return;let n=this.base.querySelector(`[data-control="${CSS.escape(t.focus)}"]`);n&&n.focus(),t.focus=""}componentWillUnmount(){let{followers:t}=this.props.link;t.splice(t.indexOf(this.follow),1)}render({link:t}){let{layout:n,regions:s,said:i}=t,r=h=>n.places.filter(([o])=>o===h).map(([,o])=>l`<div key=${o} class=${`region r-${o}`}>
            <${j} blocks=${s[o]} link=${t} />
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
              <span class="sign" aria-hidden="true">${ye[i.role]||"✓"}</span
              ><span>${i.text}</span>
            </p>`:null}
      </div>
      <div class=${u?"both":"one"}>
        ${a("left")?l`<div class="left">${r("left")}</div>`:null}
        ${a("right")?l`<div class="right">${r("right")}</div>`:null}
        ${a("wide")?l`<div class="wide">${r("wide")}</div>`:null}
      </div>
    </div>`}};async function Yt(e){let t=Uint8Array.from(atob(e.base64),i=>i.charCodeAt(0)),n=new Blob([t],{type:e.type});e.name.endsWith(".png")&&e.type==="image/svg+xml"&&(n=await Zt(n));let s=document.createElement("a");s.href=URL.createObjectURL(n),s.download=e.name,document.body.append(s),s.click(),s.remove(),setTimeout(()=>URL.revokeObjectURL(s.href),1e4)}function Zt(e){return new Promise((t,n)=>{let s=new Image;s.onload=()=>{let i=document.createElement("canvas");i.width=2*s.width,i.height=2*s.height;let r=i.getContext("2d");if(!r)return n(new Error("no canvas"));r.drawImage(s,0,0,i.width,i.height),i.toBlob(a=>a?t(a):n(new Error("no picture")),"image/png"),URL.revokeObjectURL(s.src)},s.onerror=n,s.src=URL.createObjectURL(e)})}function lt(e,t){e.classList.add("stoichkit");let n=new ue(t);return n.onFile=s=>{Yt(s)},$e(l`<${we} link=${n} />`,e),n.act("ready"),{link:n,close:()=>{n.under&&clearTimeout(n.under.timer),$e(null,e)}}}var Xt=["set","tick","step","cells"],Qt=1e3,en=4e3,tn=3e3,nn=.25,sn="Python is still working. What you type meanwhile is kept, and done afterwards.",D=e=>document.getElementById(e),rn=document.querySelector("main"),dt=location.href.split(/[?#]/)[0],on=Number(rn.dataset.bytes)||1,R=null,L=null,J="1",Z={screen:"",actions:[]},be=!1,Ce=!1;function Se(e,t){let n=Math.round(100*Math.min(e,1)),s=D("bar");s.setAttribute("aria-valuenow",String(n)),t&&(D("stage").textContent=t,s.setAttribute("aria-valuetext",`${n} %: ${t}`)),D("done").style.width=`${n}%`}function M(e,t,{alarm:n=!1,button:s="",press:i=()=>{}}={}){if(D(`notice-${e}`)?.remove(),!t)return;let r=document.createElement("div");r.id=`notice-${e}`,r.className=n?"notice alarm":"notice";let a=document.createElement("p");if(a.setAttribute("role",n?"alert":"status"),r.append(a),s){let u=document.createElement("button");u.type="button",u.textContent=s,u.addEventListener("click",()=>{r.remove(),i()}),r.append(u)}D("notices").append(r),a.textContent=t}function ce(e,t){D("loading").hidden=!0,M("failed",`${e} ${t}`,{alarm:!0,button:"Load this page again",press:()=>location.reload()})}var U=e=>`stoichkit ${dt} ${e}`;function q(e,t){try{return e()}catch{return t}}function an(){let e={};return q(()=>{let t=U("typed-");for(let n of Object.keys(localStorage))n.startsWith(t)&&(e[n.slice(U("").length)]=JSON.parse(localStorage.getItem(n)||"null"))},void 0),JSON.stringify(e)}function ln(e){let t=!1;for(let[n,s]of Object.entries(e))s===null?q(()=>localStorage.removeItem(U(n)),void 0):q(()=>(localStorage.setItem(U(n),JSON.stringify(s)),!0),!1)||(t=!0);M("full",t?"This browser keeps nothing more of what you type. Download the lab to keep it.":"",{alarm:!0,button:"Close"})}var V=[];function ft(){let e=L?L.open.filter(t=>!V.includes(t)):[];return[...V,...e].filter(t=>Xt.includes(t.name))}function un(){if(!L)return;let e=ft(),t={address:X(),screen:L.layout.screen,actions:e};q(()=>localStorage.setItem(U(`left-${J}`),JSON.stringify(t)),void 0)}function cn(){let e=q(()=>JSON.parse(localStorage.getItem(U(`left-${J}`))||"null"),null);e&&e.address===X()&&Array.isArray(e.actions)&&(Z={screen:String(e.screen||""),actions:e.actions})}function X(){if(location.hash.length>1)return location.hash.slice(1);let e=new URLSearchParams(location.search);for(let t of["lab","practice"])if(e.has(t))return`${t}=${encodeURIComponent(e.get(t)||"")}`;return""}function ut(e,t){return new Promise(n=>{let s=i=>(n(!!i),i?new Promise(()=>{}):void 0);navigator.locks.request(U(`page-${e}`),t,s).catch(()=>n(!1))})}async function dn(){if(!navigator.locks)return;let e=q(()=>sessionStorage.getItem(U("page")),null),t=e||"1",n=!!e&&await ut(t,{signal:AbortSignal.timeout(tn)});for(let s=1;!n&&s<100;s++)t=String(s),n=await ut(t,{ifAvailable:!0});J=t,q(()=>sessionStorage.setItem(U("page"),J),void 0)}async function fn(){let{serviceWorker:e}=navigator;if(!e)return;let t=await e.register("service-worker.js",{updateViaCache:"none"});!e.controller&&!t.active&&await new Promise(s=>{e.addEventListener("controllerchange",()=>s(null),{once:!0}),setTimeout(s,en,null)});let n=()=>{!t.waiting||!e.controller||M("newer","A newer version of this page is here.",{button:"Use it now",press:()=>{e.addEventListener("controllerchange",()=>location.reload(),{once:!0}),t.waiting?.postMessage("replace")}})};n(),t.addEventListener("updatefound",()=>{t.installing?.addEventListener("statechange",n)}),e.addEventListener("message",({data:s})=>{s==="complete"&&(D("background").textContent="Kept in this browser: this page opens without a network too.")})}function pt(){R=new Worker("worker.js",{type:"module"}),R.addEventListener("message",({data:t})=>hn(t.kind,t.text)),R.addEventListener("error",t=>{ce(`Python could not be started (${t.message||"its files were not found"}).`,"Look whether the network is there.")});let e={session:J,base:dt,kept:an(),fragment:X(),screen:Z.screen};R.postMessage({kind:"start",given:e})}function pn(e){L&&(Z={screen:L.layout.screen,actions:[]},R?.terminate(),M("silent",""),M("restart",e),pt())}function hn(e,t){switch(e){case"bytes":return Se((1-nn)*Math.min(t/on,1));case"stage":return Se(Number(D("bar").getAttribute("aria-valuenow"))/100,t);case"ready":return mn();case"answer":L?.receive(JSON.parse(t)),Ce&&gn();return;case"kept":return ln(JSON.parse(t));case"done":V=V.filter(n=>n.number>t);return;case"opened":return _n(JSON.parse(t));case"waits":return M("waits",JSON.parse(t));case"loading":D("background").textContent=`${t} is being loaded in the background.`;return;case"missing":return D("background").textContent="",M("missing",`${t} Screens that need it wait. Look whether the network is there.`,{alarm:!0,button:"Try again",press:()=>R?.postMessage({kind:"rest"})});case"complete":D("background").textContent="",navigator.serviceWorker?.controller?.postMessage("complete");return;case"failed":return ce(`Python stopped: ${t}.`,"What you typed is kept. Look whether the network is there.");case"broken":return ce(`Python stopped: ${t}`,"What you typed is kept.");default:return}}function _n({title:e,problem:t}){D("root").inert=!1,document.title=`${e} – stoichkit`,M("address",t&&`${t} The lab shown is another one.`,{alarm:!0,button:"Close"})}function $n(e){V.push(e),R?.postMessage({kind:"act",given:e})}function mn(){Ce=!0,L?(Z.actions=ft(),V=[],L.renew(),M("restart","")):(L=lt(D("root"),$n).link,L.silence=sn,L.followers.push(yn),q(()=>localStorage.removeItem(U(`left-${J}`)),void 0));for(let e of Z.actions)L.act(e.name,e.arguments);be&&L.act("show",{id:"readings"}),be=!1}function gn(){Ce=!1,D("loading").hidden=!0,setTimeout(()=>R?.postMessage({kind:"rest"}),50)}var xe=null;function yn(){let e=()=>!!L?.open.some(t=>t.name==="press"&&String(t.arguments.id).endsWith(":stop"));e()&&!xe&&(xe=setTimeout(()=>{xe=null,e()&&ct()},Qt)),M("silent",L?.silent?"This takes long.":"",{button:"Stop it",press:ct})}function ct(){be=!0,pn("Python was stopped, and is started again with all that you typed.")}function vn(e){let t=e.name.slice(e.name.lastIndexOf(".")).toLowerCase(),i=[...document.querySelectorAll("#root input[type=file]")].find(r=>(r.getAttribute("accept")||"").split(",").includes(t))?.getAttribute("data-control")||(t===".toml"?"upload":"");return i&&L?ve(L,i,e):M("file",`No part of this screen takes a file such as ${e.name}. A lab is a .toml file; class files belong to the screen Class.`,{alarm:!0,button:"Close"})}function wn(){addEventListener("dragover",e=>{e.preventDefault(),document.body.classList.add("over")}),addEventListener("dragleave",()=>document.body.classList.remove("over")),addEventListener("drop",e=>{e.preventDefault(),document.body.classList.remove("over");let t=e.dataTransfer?.files[0];t&&vn(t)}),addEventListener("hashchange",()=>{!L||!X()||(D("root").inert=!0,R?.postMessage({kind:"open",given:{fragment:X(),screen:""}}),L.act("ready"))}),addEventListener("pagehide",un)}async function xn(){return"WebAssembly"in window&&"Worker"in window&&"DecompressionStream"in window?(Se(0,"Python is being loaded."),wn(),await dn(),cn(),await fn().catch(()=>{}),pt()):ce("This browser cannot run Python: it is too old for it.","Use a current one, or a notebook.")}xn();
