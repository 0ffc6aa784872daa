var V,y,ht,F,$t,nt,Bt,W={},mt=[],Ft=/acit|ex(?:s|g|n|p|$)|rph|grid|ows|mnc|ntw|ine[ch]|zoo|^ord|itera/i;function k(t,e){for(var n in e)t[n]=e[n];return t}function vt(t){var e=t.parentNode;e&&e.removeChild(t)}function yt(t,e,n){var s,i,r,o={};for(r in e)r=="key"?s=e[r]:r=="ref"?i=e[r]:o[r]=e[r];if(arguments.length>2&&(o.children=arguments.length>3?V.call(arguments,2):n),typeof t=="function"&&t.defaultProps!=null)for(r in t.defaultProps)o[r]===void 0&&(o[r]=t.defaultProps[r]);return I(t,o,s,i,null)}function I(t,e,n,s,i){var r={type:t,props:e,key:n,ref:s,__k:null,__:null,__b:0,__e:null,__d:void 0,__c:null,__h:null,constructor:void 0,__v:i??++ht};return y.vnode!=null&&y.vnode(r),r}function K(t){return t.children}function T(t,e){this.props=t,this.context=e}function L(t,e){if(e==null)return t.__?L(t.__,t.__.__k.indexOf(t)+1):null;for(var n;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null)return n.__e;return typeof t.type=="function"?L(t):null}function gt(t){var e,n;if((t=t.__)!=null&&t.__c!=null){for(t.__e=t.__c.base=null,e=0;e<t.__k.length;e++)if((n=t.__k[e])!=null&&n.__e!=null){t.__e=t.__c.base=n.__e;break}return gt(t)}}function st(t){(!t.__d&&(t.__d=!0)&&F.push(t)&&!j.__r++||nt!==y.debounceRendering)&&((nt=y.debounceRendering)||$t)(j)}function j(){for(var t;j.__r=F.length;)t=F.sort(function(e,n){return e.__v.__b-n.__v.__b}),F=[],t.some(function(e){var n,s,i,r,o,c;e.__d&&(o=(r=(n=e).__v).__e,(c=n.__P)&&(s=[],(i=k({},r)).__v=r.__v+1,J(c,r,i,n.__n,c.ownerSVGElement!==void 0,r.__h!=null?[o]:null,s,o??L(r),r.__h),Ct(s,r),r.__e!=o&&gt(r)))})}function xt(t,e,n,s,i,r,o,c,p,f){var a,g,h,_,u,m,d,v=s&&s.__k||mt,w=v.length;for(n.__k=[],a=0;a<e.length;a++)if((_=n.__k[a]=(_=e[a])==null||typeof _=="boolean"?null:typeof _=="string"||typeof _=="number"||typeof _=="bigint"?I(null,_,null,null,_):Array.isArray(_)?I(K,{children:_},null,null,null):_.__b>0?I(_.type,_.props,_.key,null,_.__v):_)!=null){if(_.__=n,_.__b=n.__b+1,(h=v[a])===null||h&&_.key==h.key&&_.type===h.type)v[a]=void 0;else for(g=0;g<w;g++){if((h=v[g])&&_.key==h.key&&_.type===h.type){v[g]=void 0;break}h=null}J(t,_,h=h||W,i,r,o,c,p,f),u=_.__e,(g=_.ref)&&h.ref!=g&&(d||(d=[]),h.ref&&d.push(h.ref,null,_),d.push(g,_.__c||u,_)),u!=null?(m==null&&(m=u),typeof _.type=="function"&&_.__k!=null&&_.__k===h.__k?_.__d=p=wt(_,p,t):p=bt(t,_,h,v,u,p),f||n.type!=="option"?typeof n.type=="function"&&(n.__d=p):t.value=""):p&&h.__e==p&&p.parentNode!=t&&(p=L(h))}for(n.__e=m,a=w;a--;)v[a]!=null&&(typeof n.type=="function"&&v[a].__e!=null&&v[a].__e==n.__d&&(n.__d=L(s,a+1)),Et(v[a],v[a]));if(d)for(a=0;a<d.length;a++)St(d[a],d[++a],d[++a])}function wt(t,e,n){var s,i;for(s=0;s<t.__k.length;s++)(i=t.__k[s])&&(i.__=t,e=typeof i.type=="function"?wt(i,e,n):bt(n,i,i,t.__k,i.__e,e));return e}function bt(t,e,n,s,i,r){var o,c,p;if(e.__d!==void 0)o=e.__d,e.__d=void 0;else if(n==null||i!=r||i.parentNode==null)t:if(r==null||r.parentNode!==t)t.appendChild(i),o=null;else{for(c=r,p=0;(c=c.nextSibling)&&p<s.length;p+=2)if(c==i)break t;t.insertBefore(i,r),o=r}return o!==void 0?o:i.nextSibling}function rt(t,e,n){e[0]==="-"?t.setProperty(e,n):t[e]=n==null?"":typeof n!="number"||Ft.test(e)?n:n+"px"}function q(t,e,n,s,i){var r;t:if(e==="style")if(typeof n=="string")t.style.cssText=n;else{if(typeof s=="string"&&(t.style.cssText=s=""),s)for(e in s)n&&e in n||rt(t.style,e,"");if(n)for(e in n)s&&n[e]===s[e]||rt(t.style,e,n[e])}else if(e[0]==="o"&&e[1]==="n")r=e!==(e=e.replace(/Capture$/,"")),e=e.toLowerCase()in t?e.toLowerCase().slice(2):e.slice(2),t.l||(t.l={}),t.l[e+r]=n,n?s||t.addEventListener(e,r?at:it,r):t.removeEventListener(e,r?at:it,r);else if(e!=="dangerouslySetInnerHTML"){if(i)e=e.replace(/xlink[H:h]/,"h").replace(/sName$/,"s");else if(e!=="href"&&e!=="list"&&e!=="form"&&e!=="tabIndex"&&e!=="download"&&e in t)try{t[e]=n??"";break t}catch{}typeof n=="function"||(n!=null&&(n!==!1||e[0]==="a"&&e[1]==="r")?t.setAttribute(e,n):t.removeAttribute(e))}}function it(t){this.l[t.type+!1](y.event?y.event(t):t)}function at(t){this.l[t.type+!0](y.event?y.event(t):t)}function J(t,e,n,s,i,r,o,c,p){var f,a,g,h,_,u,m,d,v,w,S,x=e.type;if(e.constructor!==void 0)return null;n.__h!=null&&(p=n.__h,c=e.__e=n.__e,e.__h=null,r=[c]),(f=y.__b)&&f(e);try{t:if(typeof x=="function"){if(d=e.props,v=(f=x.contextType)&&s[f.__c],w=f?v?v.props.value:f.__:s,n.__c?m=(a=e.__c=n.__c).__=a.__E:("prototype"in x&&x.prototype.render?e.__c=a=new x(d,w):(e.__c=a=new T(d,w),a.constructor=x,a.render=qt),v&&v.sub(a),a.props=d,a.state||(a.state={}),a.context=w,a.__n=s,g=a.__d=!0,a.__h=[]),a.__s==null&&(a.__s=a.state),x.getDerivedStateFromProps!=null&&(a.__s==a.state&&(a.__s=k({},a.__s)),k(a.__s,x.getDerivedStateFromProps(d,a.__s))),h=a.props,_=a.state,g)x.getDerivedStateFromProps==null&&a.componentWillMount!=null&&a.componentWillMount(),a.componentDidMount!=null&&a.__h.push(a.componentDidMount);else{if(x.getDerivedStateFromProps==null&&d!==h&&a.componentWillReceiveProps!=null&&a.componentWillReceiveProps(d,w),!a.__e&&a.shouldComponentUpdate!=null&&a.shouldComponentUpdate(d,a.__s,w)===!1||e.__v===n.__v){a.props=d,a.state=a.__s,e.__v!==n.__v&&(a.__d=!1),a.__v=e,e.__e=n.__e,e.__k=n.__k,e.__k.forEach(function($){$&&($.__=e)}),a.__h.length&&o.push(a);break t}a.componentWillUpdate!=null&&a.componentWillUpdate(d,a.__s,w),a.componentDidUpdate!=null&&a.__h.push(function(){a.componentDidUpdate(h,_,u)})}a.context=w,a.props=d,a.state=a.__s,(f=y.__r)&&f(e),a.__d=!1,a.__v=e,a.__P=t,f=a.render(a.props,a.state,a.context),a.state=a.__s,a.getChildContext!=null&&(s=k(k({},s),a.getChildContext())),g||a.getSnapshotBeforeUpdate==null||(u=a.getSnapshotBeforeUpdate(h,_)),S=f!=null&&f.type===K&&f.key==null?f.props.children:f,xt(t,Array.isArray(S)?S:[S],e,n,s,i,r,o,c,p),a.base=e.__e,e.__h=null,a.__h.length&&o.push(a),m&&(a.__E=a.__=null),a.__e=!1}else r==null&&e.__v===n.__v?(e.__k=n.__k,e.__e=n.__e):e.__e=Nt(n.__e,e,n,s,i,r,o,p);(f=y.diffed)&&f(e)}catch($){e.__v=null,(p||r!=null)&&(e.__e=c,e.__h=!!p,r[r.indexOf(c)]=null),y.__e($,e,n)}}function Ct(t,e){y.__c&&y.__c(e,t),t.some(function(n){try{t=n.__h,n.__h=[],t.some(function(s){s.call(n)})}catch(s){y.__e(s,n.__v)}})}function Nt(t,e,n,s,i,r,o,c){var p,f,a,g=n.props,h=e.props,_=e.type,u=0;if(_==="svg"&&(i=!0),r!=null){for(;u<r.length;u++)if((p=r[u])&&(p===t||(_?p.localName==_:p.nodeType==3))){t=p,r[u]=null;break}}if(t==null){if(_===null)return document.createTextNode(h);t=i?document.createElementNS("http://www.w3.org/2000/svg",_):document.createElement(_,h.is&&h),r=null,c=!1}if(_===null)g===h||c&&t.data===h||(t.data=h);else{if(r=r&&V.call(t.childNodes),f=(g=n.props||W).dangerouslySetInnerHTML,a=h.dangerouslySetInnerHTML,!c){if(r!=null)for(g={},u=0;u<t.attributes.length;u++)g[t.attributes[u].name]=t.attributes[u].value;(a||f)&&(a&&(f&&a.__html==f.__html||a.__html===t.innerHTML)||(t.innerHTML=a&&a.__html||""))}if((function(m,d,v,w,S){var x;for(x in v)x==="children"||x==="key"||x in d||q(m,x,null,v[x],w);for(x in d)S&&typeof d[x]!="function"||x==="children"||x==="key"||x==="value"||x==="checked"||v[x]===d[x]||q(m,x,d[x],v[x],w)})(t,h,g,i,c),a)e.__k=[];else if(u=e.props.children,xt(t,Array.isArray(u)?u:[u],e,n,s,i&&_!=="foreignObject",r,o,r?r[0]:n.__k&&L(n,0),c),r!=null)for(u=r.length;u--;)r[u]!=null&&vt(r[u]);c||("value"in h&&(u=h.value)!==void 0&&(u!==t.value||_==="progress"&&!u)&&q(t,"value",u,g.value,!1),"checked"in h&&(u=h.checked)!==void 0&&u!==t.checked&&q(t,"checked",u,g.checked,!1))}return t}function St(t,e,n){try{typeof t=="function"?t(e):t.current=e}catch(s){y.__e(s,n)}}function Et(t,e,n){var s,i;if(y.unmount&&y.unmount(t),(s=t.ref)&&(s.current&&s.current!==t.__e||St(s,null,e)),(s=t.__c)!=null){if(s.componentWillUnmount)try{s.componentWillUnmount()}catch(r){y.__e(r,e)}s.base=s.__P=null}if(s=t.__k)for(i=0;i<s.length;i++)s[i]&&Et(s[i],e,typeof t.type!="function");n||t.__e==null||vt(t.__e),t.__e=t.__d=void 0}function qt(t,e,n){return this.constructor(t,n)}function Q(t,e,n){var s,i,r;y.__&&y.__(t,e),i=(s=typeof n=="function")?null:n&&n.__k||e.__k,r=[],J(e,t=(!s&&n||e).__k=yt(K,null,[t]),i||W,W,e.ownerSVGElement!==void 0,!s&&n?[n]:i?null:e.firstChild?V.call(e.childNodes):null,r,!s&&n?n:i?i.__e:e.firstChild,s),Ct(r,t)}V=mt.slice,y={__e:function(t,e){for(var n,s,i;e=e.__;)if((n=e.__c)&&!n.__)try{if((s=n.constructor)&&s.getDerivedStateFromError!=null&&(n.setState(s.getDerivedStateFromError(t)),i=n.__d),n.componentDidCatch!=null&&(n.componentDidCatch(t),i=n.__d),i)return n.__E=n}catch(r){t=r}throw t}},ht=0,T.prototype.setState=function(t,e){var n;n=this.__s!=null&&this.__s!==this.state?this.__s:this.__s=k({},this.state),typeof t=="function"&&(t=t(k({},n),this.props)),t&&k(n,t),t!=null&&this.__v&&(e&&this.__h.push(e),st(this))},T.prototype.forceUpdate=function(t){this.__v&&(this.__e=!0,t&&this.__h.push(t),st(this))},T.prototype.render=K,F=[],$t=typeof Promise=="function"?Promise.prototype.then.bind(Promise.resolve()):setTimeout,j.__r=0,Bt=0;var G,D,ot,z=0,X=[],lt=y.__b,ut=y.__r,ct=y.diffed,dt=y.__c,pt=y.unmount;function tt(t,e){y.__h&&y.__h(D,t,z||e),z=0;var n=D.__H||(D.__H={__:[],__h:[]});return t>=n.__.length&&n.__.push({}),n.__[t]}function M(t){return z=1,It(Pt,t)}function It(t,e,n){var s=tt(G++,2);return s.t=t,s.__c||(s.__=[n?n(e):Pt(void 0,e),function(i){var r=s.t(s.__[0],i);s.__[0]!==r&&(s.__=[r,s.__[1]],s.__c.setState({}))}],s.__c=D),s.__}function N(t,e){var n=tt(G++,3);!y.__s&&Dt(n.__H,e)&&(n.__=t,n.__H=e,D.__H.__h.push(n))}function A(t){return z=5,Ot(function(){return{current:t}},[])}function Ot(t,e){var n=tt(G++,7);return Dt(n.__H,e)&&(n.__=t(),n.__H=e,n.__h=t),n.__}function Wt(){X.forEach(function(t){if(t.__P)try{t.__H.__h.forEach(O),t.__H.__h.forEach(Y),t.__H.__h=[]}catch(e){t.__H.__h=[],y.__e(e,t.__v)}}),X=[]}y.__b=function(t){D=null,lt&&lt(t)},y.__r=function(t){ut&&ut(t),G=0;var e=(D=t.__c).__H;e&&(e.__h.forEach(O),e.__h.forEach(Y),e.__h=[])},y.diffed=function(t){ct&&ct(t);var e=t.__c;e&&e.__H&&e.__H.__h.length&&(X.push(e)!==1&&ot===y.requestAnimationFrame||((ot=y.requestAnimationFrame)||function(n){var s,i=function(){clearTimeout(r),ft&&cancelAnimationFrame(s),setTimeout(n)},r=setTimeout(i,100);ft&&(s=requestAnimationFrame(i))})(Wt)),D=void 0},y.__c=function(t,e){e.some(function(n){try{n.__h.forEach(O),n.__h=n.__h.filter(function(s){return!s.__||Y(s)})}catch(s){e.some(function(i){i.__h&&(i.__h=[])}),e=[],y.__e(s,n.__v)}}),dt&&dt(t,e)},y.unmount=function(t){pt&&pt(t);var e=t.__c;if(e&&e.__H)try{e.__H.__.forEach(O)}catch(n){y.__e(n,e.__v)}};var ft=typeof requestAnimationFrame=="function";function O(t){var e=D;typeof t.__c=="function"&&t.__c(),D=e}function Y(t){var e=D;t.__c=t.__(),D=e}function Dt(t,e){return!t||t.length!==e.length||e.some(function(n,s){return n!==t[s]})}function Pt(t,e){return typeof e=="function"?e(t):e}var kt=function(t,e,n,s){var i;e[0]=0;for(var r=1;r<e.length;r++){var o=e[r++],c=e[r]?(e[0]|=o?1:2,n[e[r++]]):e[++r];o===3?s[0]=c:o===4?s[1]=Object.assign(s[1]||{},c):o===5?(s[1]=s[1]||{})[e[++r]]=c:o===6?s[1][e[++r]]+=c+"":o?(i=t.apply(c,kt(t,c,n,["",null])),s.push(i),c[0]?e[0]|=2:(e[r-2]=0,e[r]=i)):s.push(c)}return s},_t=new Map,l=function(t){var e=_t.get(this);return e||(e=new Map,_t.set(this,e)),(e=kt(this,e.get(t)||(e.set(t,e=(function(n){for(var s,i,r=1,o="",c="",p=[0],f=function(h){r===1&&(h||(o=o.replace(/^\s*\n\s*|\s*\n\s*$/g,"")))?p.push(0,h,o):r===3&&(h||o)?(p.push(3,h,o),r=2):r===2&&o==="..."&&h?p.push(4,h,0):r===2&&o&&!h?p.push(5,0,!0,o):r>=5&&((o||!h&&r===5)&&(p.push(r,0,o,i),r=6),h&&(p.push(r,h,0,i),r=6)),o=""},a=0;a<n.length;a++){a&&(r===1&&f(),f(a));for(var g=0;g<n[a].length;g++)s=n[a][g],r===1?s==="<"?(f(),p=[p],r=3):o+=s:r===4?o==="--"&&s===">"?(r=1,o=""):o=s+o[0]:c?s===c?c="":o+=s:s==='"'||s==="'"?c=s:s===">"?(f(),r=1):r&&(s==="="?(r=5,i=o,o=""):s==="/"&&(r<5||n[a][g+1]===">")?(f(),r===3&&(p=p[0]),r=p,(p=p[0]).push(2,0,r),r=0):s===" "||s==="	"||s===`
`||s==="\r"?(f(),r=2):o+=s),r===3&&o==="!--"&&(r=4,p=p[0])}return f(),p})(t)),e),arguments,[])).length>1?e:e[0]}.bind(yt);var U=.5522847498307936,At=t=>/^[a-z]+$/.test(t)?`var(--pic-${t})`:t;function Ut(t){let e=[];for(let n=0;n<t.length;n+=2)e.push(`${t[n]},${t[n+1]}`);return e.join(" ")}function jt([t,e,n,s,i,r]){let c=[[1,0],[1,U],[U,1],[0,1],[-U,1],[-1,U],[-1,0],[-1,-U],[-U,-1],[0,-1],[U,-1],[1,-U],[1,0]].map(([p,f])=>`${(t+p*n+f*i).toFixed(2)} ${(e+p*s+f*r).toFixed(2)}`);return`M${c[0]} C${c.slice(1,4).join(" ")} C${c.slice(4,7).join(" ")} C${c.slice(7,10).join(" ")} C${c.slice(10,13).join(" ")}Z`}function zt({item:t}){let e=At(t.ink);switch(t.is){case"line":return l`<polyline points=${Ut(t.at)} style=${`fill:none;stroke:${e}`} stroke-width=${t.width} stroke-dasharray=${t.dashes?t.dashes.join(" "):void 0} />`;case"area":return l`<polygon points=${Ut(t.at)} style=${`fill:${e};fill-opacity:${t.opacity};${t.edge?`stroke:${At(t.edge)};stroke-width:0.9`:""}`} />`;case"ellipse":return l`<path d=${jt(t.at)} style=${`fill:${t.opacity?e:"none"};fill-opacity:${t.opacity};stroke:${e}`} stroke-width=${t.width} />`;case"circle":return l`<circle cx=${t.at[0]} cy=${t.at[1]} r=${t.size} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`;case"diamond":{let[n,s]=t.at,i=t.size;return l`<path d=${`M${n} ${s-i}L${n+i} ${s}L${n} ${s+i}L${n-i} ${s}Z`} style=${`fill:${e};stroke:var(--pic-paper)`} stroke-width="0.8" />`}case"words":{let[n,s]=t.at;return l`<text x=${n} y=${s} font-size=${t.size} text-anchor=${t.anchor==="start"?void 0:t.anchor} font-weight=${t.bold?"bold":void 0} style=${`fill:${e}`} transform=${t.angle?`rotate(${t.angle} ${n} ${s})`:void 0}>${t.text}</text>`}default:return null}}function Ht({block:t,link:e}){let n=A(null),s=A(null),[i,r]=M(""),[o,c]=M(null),[p,f,a,g]=t.limits,{width:h,height:_}=t,u=($,b)=>[($-p)/(f-p)*h,_-(b-a)/(g-a)*_];N(()=>{if(!t.sizes||!n.current||typeof ResizeObserver>"u")return;let $=0,b=0,E=()=>{let P=Math.round(n.current?n.current.clientWidth:0);P<100||Math.abs(P-b)<9||(b=P,e.act("pick",{id:`${t.id}:width`,to:P},{key:`width ${t.id}`}))},C=new ResizeObserver(()=>{clearTimeout($),$=setTimeout(E,120)});return C.observe(n.current),()=>C.disconnect()},[t.id,t.sizes]);let m=$=>{let b=s.current.getBoundingClientRect(),E=p+($.clientX-b.left)/b.width*(f-p),C=g-($.clientY-b.top)/b.height*(g-a);return[E,C]},d=($,b,E)=>e.act("move",{id:`${t.id}:move`,spot:$.name,x:b,y:E},{key:`move ${$.name}`}),v=$=>b=>{!$.drag||!t.moves||(b.preventDefault(),b.currentTarget.focus(),b.currentTarget.setPointerCapture(b.pointerId),c({name:$.name,at:[$.x,$.y]}))},w=$=>b=>{if(!o||o.name!==$.name)return;let[E,C]=m(b);c({name:$.name,at:[E,C]}),d($,E,C)},S=()=>{o&&e.act("left",{id:t.id}),c(null)},x=$=>b=>{if(!$.drag||!t.moves)return;let E=b.shiftKey?20:100,C=(f-p)/E,P=(g-a)/E,B={ArrowLeft:[-C,0],ArrowRight:[C,0],ArrowUp:[0,P],ArrowDown:[0,-P]}[b.key];B&&(b.preventDefault(),d($,$.x+B[0],$.y+B[1]))};return l`<figure class=${t.stale?"picture stale":"picture"} ref=${n}>
    <svg ref=${s} viewBox=${`0 0 ${h} ${_}`} style=${`width:${Math.round(h*1.5)}px`} role="group" aria-label=${t.title}>
      <g aria-hidden="true">${t.items.map(($,b)=>l`<${zt} key=${b} item=${$} />`)}</g>
      ${t.spots.map(($,b)=>{let E=o&&o.name===$.name,[C,P]=E?u(o.at[0],o.at[1]):u($.x,$.y),B=$.drag&&t.moves?`${$.words}. Arrow keys move it`:$.words;return l`<g key=${b} class=${E?"spot moving":"spot"} tabindex="0" role=${$.drag&&t.moves?"button":"img"} aria-label=${B}
          onPointerDown=${v($)} onPointerMove=${w($)} onPointerUp=${S} onPointerCancel=${S}
          onKeyDown=${x($)} onMouseEnter=${()=>r($.words)} onMouseLeave=${()=>r("")}
          onFocus=${()=>r($.words)} onBlur=${()=>{r(""),e.act("left",{id:t.id})}}>
          <circle cx=${C} cy=${P} r="9" class="target" />
          ${E?l`<circle cx=${C} cy=${P} r="4" class="moved" />`:null}
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
  </figure>`}function Vt(t){return t.replace(/\r\n?/g,`
`).replace(/\n+$/,"").split(`
`).map(n=>n.split("	"))}function Tt({block:t,link:e}){let n=A(null),s=A(null),i=t.columns.length,r=t.rows.length,o=(u,m)=>n.current&&n.current.querySelector(`[data-at="${u}:${m}"]`),c=(u,m)=>{let d=o(u,m);return d?(d.focus(),d.select&&d.select(),!0):!1};N(()=>{s.current&&c(...s.current)&&(s.current=null)});let p=(u,m)=>d=>{let v=d.target.value,w=`cell ${t.id} ${u} ${m}`;e.act("cells",{id:t.id,row:u,column:m,to:[[v]]},{key:w,text:v})},f=(u,m)=>d=>{let v=d.clipboardData&&d.clipboardData.getData("text/plain"),w=v?Vt(v):[];w.length<2&&(!w[0]||w[0].length<2)||(d.preventDefault(),e.act("cells",{id:t.id,row:u,column:m,to:w}))},a=(u,m,d)=>v=>{let{key:w,target:S}=v,x=S.selectionStart===0&&S.selectionEnd===0,$=S.value.length,b=S.selectionStart===$&&S.selectionEnd===$,E=S.selectionStart===0&&S.selectionEnd===$,C=null;w==="Enter"&&!(d&&v.altKey)?C=[u+(v.shiftKey?-1:1),m]:w==="ArrowDown"?C=[u+1,m]:w==="ArrowUp"?C=[u-1,m]:w==="ArrowLeft"&&(x||E)?C=[u,m-1]:w==="ArrowRight"&&(b||E)&&(C=[u,m+1]),C&&(v.preventDefault(),!c(C[0],C[1])&&w==="Enter"&&C[0]>=r&&t.grows&&(s.current=[r,v.shiftKey?m:0],e.act("cells",{id:t.id,row:r,column:0,to:[[""]]})))},g=()=>e.act("left",{id:t.id}),h=(u,m,d,v)=>{let w=`${v}, ${t.columns[m].label}`,S=e.text(`cell ${t.id} ${u} ${m}`,d.text),x=d.refusal||d.note;return l`<td key=${m} class=${d.refusal?"refused":d.mark.replace(" ","-")}>
      <input
        type="text"
        data-at=${`${u}:${m}`}
        value=${S}
        aria-label=${d.mark?`${w}, ${d.mark}`:w}
        aria-invalid=${d.refusal?"true":void 0}
        title=${x||void 0}
        inputmode="decimal"
        autocomplete="off"
        spellcheck=${!1}
        onInput=${p(u,m)}
        onPaste=${f(u,m)}
        onKeyDown=${a(u,m,d.lines)}
        onBlur=${g}
      />
      ${d.refusal?l`<span class="why">${d.refusal}</span>`:null}
      ${d.mark==="what if"?l`<span class="was">${d.note}</span>`:null}
    </td>`},_=u=>m=>{let d=m.target.value,v=`name ${u}`;e.act("cells",{id:"names",row:u,column:0,to:[[d]]},{key:v,text:d})};return l`<div class="scroll sheet" role="group" aria-label=${t.label} ref=${n}>
    <table>
      <thead>
        <tr>
          <th scope="col">${t.grows?"trial":""}</th>
          ${t.columns.map((u,m)=>l`<th key=${m} scope="col">${u.label}${u.unit?`, ${u.unit}`:""}</th>`)}
          ${t.result?l`<th scope="col" class="result">${t.result}</th>`:null}
        </tr>
      </thead>
      <tbody>
        ${t.rows.map((u,m)=>l`<tr key=${m}>
            <th scope="row">
              ${t.grows?l`<input
                    type="text"
                    aria-label=${`Name of trial ${m+1}`}
                    value=${e.text(`name ${m}`,u.name)}
                    onInput=${_(m)}
                    onBlur=${g}
                    autocomplete="off"
                    spellcheck=${!1}
                  />`:u.name}
            </th>
            ${u.cells.map((d,v)=>h(m,v,d,u.name))}
            ${t.result?l`<td class=${u.refusal?"result refused":"result"}>
                  ${u.refusal||u.result}
                </td>`:null}
          </tr>`)}
      </tbody>
    </table>
  </div>`}function H({blocks:t,link:e}){return(t||[]).map((n,s)=>{let i=_e[n.kind];return i?l`<${i} key=${n.id||`${n.kind}${s}`} block=${n} link=${e} />`:null})}var Kt=0;function R(t){let e=A("");return e.current||(e.current=`stoichkit-${t}-${++Kt}`),e.current}function Gt({block:t}){return t.level===2?l`<h2>${t.text}</h2>`:l`<h3>${t.text}</h3>`}var Zt={warning:"!",refusal:"!",diagnosis:"✓",trust:"⇔",good:"✓"};function Xt({block:t}){let e=Zt[t.role];return e?l`<p class=${`line ${t.role}`}>
      <span class="sign" aria-hidden="true">${e}</span><span>${t.text}</span>
    </p>`:t.role==="status"?l`<p class="note" role="status">${t.text}</p>`:l`<p class=${t.role}>${t.text}</p>`}function Yt({block:t,link:e}){let n=R("field"),s=`set ${t.id}`,i=e.text(s,t.text),r=a=>{let g=a.target.value;e.act("set",{id:t.id,to:g},{key:s,text:g})},o=()=>e.act("left",{id:t.id}),c=t.refusal||t.note,p={id:n,value:i,onInput:r,onBlur:o,spellcheck:!1,autocomplete:"off","aria-invalid":t.refusal||t.refused?"true":void 0,"aria-describedby":c?`${n}-note`:void 0,"aria-label":t.bare?t.label:void 0,style:t.width?`width:${t.width+2}ch`:""},f=t.options&&t.options.length?`${n}-list`:void 0;return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    ${t.lines?l`<textarea rows=${t.lines} ...${p}></textarea>`:l`<input type="text" list=${f} ...${p} />`}
    ${f?l`<datalist id=${f}>
          ${t.options.map(([a,g])=>l`<option value=${a}>${g}</option>`)}
        </datalist>`:null}
    ${c?l`<span id=${`${n}-note`} class=${t.refusal?"refused":"hint"}>${c}</span>`:null}
  </div>`}function Jt({block:t,link:e}){let n=R("choice"),s=`set ${t.id}`,i=e.text(s,t.value),r=o=>{let c=o.target.value;e.act("set",{id:t.id,to:c},{key:s,text:c})};return l`<div class=${t.bare?"field bare":"field"}>
    ${t.bare?null:l`<label for=${n}>${t.label}</label>`}
    <select id=${n} onChange=${r} aria-label=${t.bare?t.label:void 0}>
      ${t.options.map(([o,c])=>l`<option value=${o} selected=${o===i}>${c}</option>`)}
    </select>
  </div>`}function Qt({block:t,link:e}){let n=`tick ${t.id}`,s=e.text(n,t.on);return l`<label class="tick"
    ><input type="checkbox" checked=${s} onChange=${r=>{let o=r.target.checked;e.act("tick",{id:t.id,to:o},{key:n,text:o})}} /> ${t.label}</label
  >`}function te({block:t,link:e}){return l`<button
    type="button"
    class=${`button ${t.look}`}
    disabled=${!t.enabled}
    aria-label=${t.spoken||void 0}
    title=${t.spoken||void 0}
    onClick=${()=>e.act("press",{id:t.id})}
  >
    ${t.label}
  </button>`}function ee({block:t,link:e}){return l`<div class="row"><${H} blocks=${t.blocks} link=${e} /></div>`}function ne({block:t,link:e}){let[n,s]=M(!1),i=R("chip");return l`<div class=${n?"chip open":"chip"}>
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
      ${n?l`<${H} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function se({block:t,link:e}){return l`<div class="sentence">
    ${t.parts.map((n,s)=>n.kind==="words"?l`<span key=${s}>${n.text}</span>`:l`<${H} key=${n.id||s} blocks=${[n]} link=${e} />`)}
  </div>`}function re({block:t,link:e}){let[n,s]=M(!!t.opened),i=R("more");return l`<div class="details">
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
      ${n?l`<${H} blocks=${t.blocks} link=${e} />`:null}
    </div>
  </div>`}function Lt({block:t}){return l`<ul>
    ${t.items.map((e,n)=>l`<li key=${n}>${e}</li>`)}
  </ul>`}function Mt({block:t,link:e}){let n=s=>e.act("pick",{id:t.id,to:s});return l`<div class=${t.prose?"scroll prose":"scroll"} tabindex="0" role="group" aria-label=${t.caption||"table"}>
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
  </div>`}function ie({block:t,link:e}){return l`<section class=${`verdict ${t.look.replace(" ","-")}`} aria-label="Verdict">
    <p class="headline" role="status">${t.headline}</p>
    <${H} blocks=${t.blocks} link=${e} />
  </section>`}function ae({block:t}){return l`<ul class=${t.stale?"candidates stale":"candidates"} aria-label="Candidates">
    ${t.rows.map(e=>l`<li key=${e.name} class=${e.fits?"fits":"out"}>
        <span class="name">${e.name}</span>
        <span class="bar" aria-hidden="true"
          ><span style=${`width:${Math.max(100*e.share,e.share>0?.6:0)}%`}></span
        ></span>
        <span class="standing"
          >${[e.standing,e.p,e.yield].filter(Boolean).join(" · ")}</span
        >
      </li>`)}
  </ul>`}function oe({block:t,link:e}){let n=R("step"),s=`step ${t.id}`,i=Number(e.text(s,t.value)),r=c=>e.act("step",{id:t.id,to:c},{key:s,text:c}),o=t.words.length-1;return l`<div class="step">
    <label for=${n}>${t.label}</label>
    <input
      id=${n}
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
  </div>`}function le({block:t,link:e}){return l`<div class="progress">
    <span class="turn" aria-hidden="true"></span>
    <span role="status">${t.words}</span>
    <button type="button" class="button" onClick=${()=>e.act("press",{id:t.id})}>
      Stop
    </button>
  </div>`}function ue({block:t,link:e}){let n=R("file"),s=i=>{let r=i.target.files&&i.target.files[0];if(!r)return;let o=new FileReader;o.onload=()=>e.act("file",{id:t.id,name:r.name,base64:String(o.result).split(",")[1]||""}),o.readAsDataURL(r),i.target.value=""};return l`<div class="field">
    <label for=${n}>${t.label}</label>
    <input id=${n} type="file" accept=${t.accept} onChange=${s} />
  </div>`}function ce({part:t}){return l`<p class="equation">
    ${t.sides.map((e,n)=>l`<span key=${n}>${n?"= ":""}${e}</span>`)}
    ${t.remark?l`<span class="hint">${t.remark}</span>`:null}
  </p>`}function de({part:t}){let e=`data:image/svg+xml;charset=utf-8,${encodeURIComponent(t.svg)}`;return l`<figure class="drawing">
    <img src=${e} alt=${t.alt_text} />
    ${t.caption?l`<figcaption>${t.caption}</figcaption>`:null}
  </figure>`}function pe({part:t}){switch(t.kind){case"strong":return l`<p class="strong">${t.text}</p>`;case"subheading":return l`<h4>${t.text}</h4>`;case"list":return l`<${Lt} block=${t} />`;case"table":return l`<${Mt} block=${t} />`;case"equation":return l`<${ce} part=${t} />`;case"picture":return l`<${de} part=${t} />`;default:return l`<p>${t.text}</p>`}}function fe({block:t}){return l`<article class="document">
    ${t.titled&&t.title?l`<h2>${t.title}</h2>`:null}
    ${t.opening.map((e,n)=>l`<p key=${n}>${e}</p>`)}
    ${t.sections.map((e,n)=>l`<section key=${n}>
        ${e.title?l`<h3>${e.title}</h3>`:null}
        ${e.parts.map((s,i)=>l`<${pe} key=${i} part=${s} />`)}
      </section>`)}
  </article>`}var _e={heading:Gt,words:Xt,field:Yt,choice:Jt,tick:Qt,button:te,row:ee,chip:ne,sentence:se,details:re,list:Lt,table:Mt,verdict:ie,candidates:ae,step:oe,progress:le,file:ue,document:fe,picture:Ht,sheet:Tt};var Z=class{constructor(e){this.send=e,this.page=Math.random().toString(36).slice(2)+Date.now().toString(36),this.number=0,this.seen=0,this.queue=[],this.under=null,this.local=new Map,this.regions={},this.layout={screen:"",places:[],tabs:[]},this.said={text:"",role:""},this.alive=!1,this.settled=!1,this.silent=!1,this.followers=[],this.onFile=()=>{}}act(e,n={},s={}){let i={page:this.page,number:++this.number,name:e,arguments:n},r=s.key??"",o=this.queue[this.queue.length-1];r&&o&&o.key===r?o.action=i:this.queue.push({action:i,key:r}),r&&"text"in s&&this.local.set(r,{text:s.text,number:i.number}),this.settled=!1,this.pump(),this.tell()}pump(){if(this.under||!this.queue.length)return;let{action:e}=this.queue.shift(),n=setTimeout(()=>{this.silent=!0,this.tell()},6e3);this.under={number:e.number,timer:n},this.send(e)}receive(e){if(!e||typeof e!="object"||!e.layout)return;let n=e.seen&&e.seen[this.page]||0;if(e.layout.screen!==this.layout.screen){let s=this.regions.head;this.regions=s?{head:s}:{}}this.layout=e.layout,Object.assign(this.regions,e.regions),this.said=e.said,this.settled=!!e.settled,this.alive=!0,this.silent=!1,this.seen=Math.max(this.seen,n);for(let[s,i]of this.local)i.number<=this.seen&&this.local.delete(s);this.under&&this.seen>=this.under.number&&(clearTimeout(this.under.timer),this.under=null,this.pump());for(let s of e.files||[])this.onFile(s);this.tell()}text(e,n){let s=this.local.get(e);return s?s.text:n}tell(){for(let e of this.followers)e()}};var et=class extends T{componentDidMount(){this.follow=()=>this.setState({}),this.props.link.followers.push(this.follow)}componentWillUnmount(){let{followers:e}=this.props.link;e.splice(e.indexOf(this.follow),1)}render({link:e}){let{layout:n,regions:s,said:i}=e,r=f=>n.places.filter(([a])=>a===f).map(([,a])=>l`<div key=${a} class=${`region r-${a}`}>
            <${H} blocks=${s[a]} link=${e} />
          </div>`),o=f=>n.places.some(([a])=>a===f),c=o("left")&&o("right"),p=f=>()=>e.act("show",{id:f});return l`<div class=${e.settled?"page settled":"page"}>
      ${o("head")?l`<div class="top">${r("head")}</div>`:null}
      ${n.tabs.length>1?l`<nav aria-label="Screens">
            ${n.tabs.map(([f,a])=>l`<button
                key=${f}
                type="button"
                class=${f===n.screen?"tab shown":"tab"}
                aria-current=${f===n.screen?"page":void 0}
                onClick=${p(f)}
              >
                ${a}
              </button>`)}
          </nav>`:null}
      <div class="said" role="status" aria-live="polite">
        ${e.silent?l`<p class="line refusal">
              <span class="sign" aria-hidden="true">!</span
              ><span>Python does not answer. If it was stopped, run the cell again: what you typed was kept.</span>
            </p>`:null}
        ${i.text?l`<p class=${`line ${i.role}`}><span class="sign" aria-hidden="true">!</span><span>${i.text}</span></p>`:null}
      </div>
      <div class=${c?"both":"one"}>
        ${o("left")?l`<div class="left">${r("left")}</div>`:null}
        ${o("right")?l`<div class="right">${r("right")}</div>`:null}
        ${o("wide")?l`<div class="wide">${r("wide")}</div>`:null}
      </div>
    </div>`}};async function he(t){let e=Uint8Array.from(atob(t.base64),i=>i.charCodeAt(0)),n=new Blob([e],{type:t.type});t.name.endsWith(".png")&&t.type==="image/svg+xml"&&(n=await $e(n));let s=document.createElement("a");s.href=URL.createObjectURL(n),s.download=t.name,document.body.append(s),s.click(),s.remove(),setTimeout(()=>URL.revokeObjectURL(s.href),1e4)}function $e(t){return new Promise((e,n)=>{let s=new Image;s.onload=()=>{let i=document.createElement("canvas");i.width=2*s.width,i.height=2*s.height;let r=i.getContext("2d");if(!r)return n(new Error("no canvas"));r.drawImage(s,0,0,i.width,i.height),i.toBlob(o=>o?e(o):n(new Error("no picture")),"image/png"),URL.revokeObjectURL(s.src)},s.onerror=n,s.src=URL.createObjectURL(t)})}function Rt(t,e){t.classList.add("stoichkit");let n=new Z(e);return n.onFile=s=>{he(s)},Q(l`<${et} link=${n} />`,t),n.act("ready"),{link:n,close:()=>{n.under&&clearTimeout(n.under.timer),Q(null,t)}}}function me(t){for(let e of document.querySelectorAll(`[data-stoichkit-still="${CSS.escape(t)}"]`)){let n=e.closest(".jp-OutputArea-child")||e;n instanceof HTMLElement&&(n.style.display="none")}}var Te={render({model:t,el:e}){let n=Rt(e,i=>t.send(i)),s=i=>{n.link.receive(i),me(t.get("key"))};return t.on("msg:custom",s),()=>{t.off("msg:custom",s),n.close()}}};export{Te as default};
