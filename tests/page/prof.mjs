import { openDayOf, slider, startSite } from "./harness.mjs";
const site = await startSite();
const { page } = await openDayOf(site);
const c = await page.context().newCDPSession(page);
await c.send("Profiler.enable"); await c.send("Profiler.setSamplingInterval",{interval:200});
await c.send("Performance.enable");
const metr=async()=>Object.fromEntries((await c.send("Performance.getMetrics")).metrics.map(m=>[m.name,m.value]));
const m0=await metr();
await c.send("Profiler.start");
await page.evaluate(async()=>{const r=document.querySelector('.control[data-path="cooler.ua"] input[type=range]');const s=+r.step,m=+r.value;
 for(let i=0;i<100;i++){r.value=m+s*((i%21)-10);r.dispatchEvent(new Event("input",{bubbles:true}));await new Promise(d=>requestAnimationFrame(()=>setTimeout(d)));}});
const {profile}=await c.send("Profiler.stop");
const m1=await metr();
for(const k of ["LayoutCount","RecalcStyleCount","LayoutDuration","RecalcStyleDuration","ScriptDuration","TaskDuration"])console.log(k,((m1[k]-m0[k])/100*(k.endsWith("Duration")?1000:1)).toFixed(2),"per move");
const self=new Map(),byId=new Map(profile.nodes.map(n=>[n.id,n]));
const dt=profile.timeDeltas;const own=new Map();
profile.samples.forEach((id,i)=>own.set(id,(own.get(id)??0)+dt[i]));
const name=n=>`${n.callFrame.functionName||"(anon)"} ${n.callFrame.url.split("/").pop()}:${n.callFrame.lineNumber+1}`;
const incl=new Map();
function walk(n,seen){let t=own.get(n.id)??0;const k=name(n);const fresh=!seen.has(k);if(fresh)seen.add(k);for(const ch of n.children??[])t+=walk(byId.get(ch),seen);if(fresh){incl.set(k,(incl.get(k)??0)+t);seen.delete(k);}return t;}
walk(profile.nodes[0],new Set());
for(const n of profile.nodes){const k=name(n);self.set(k,(self.get(k)??0)+(own.get(n.id)??0));}
const top=(m,t)=>{console.log(t);[...m].sort((a,b)=>b[1]-a[1]).slice(0,32).forEach(([k,v])=>console.log((v/1000/100).toFixed(3),"ms/move",k));};
top(self,"SELF");top(incl,"INCL");
await site.close();
