"""How the report looks, beyond what all papers share: cards, rails, pictures."""

from __future__ import annotations

__all__ = ["REPORT"]

REPORT = """
.lk-paper nav{margin:.8rem 0}
.lk-paper nav a,.lk-paper .lk-from a{color:var(--lk-accent)}
.lk-paper nav ul{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.3rem 1.2rem}
.lk-paper .lk-product,.lk-paper .lk-checks{margin-top:2.4rem;border-top:2px solid var(--lk-accent);
padding-top:.4rem}
.lk-paper .lk-product>h2,.lk-paper .lk-checks>h2{font-size:1.4rem;margin:.4rem 0 .2rem;
color:var(--lk-ink)}
.lk-paper .lk-now{display:flex;flex-wrap:wrap;gap:.5rem;margin:.7rem 0;padding:0;list-style:none}
.lk-paper .lk-now li{background:var(--lk-tint);border-radius:4px;padding:.45rem .8rem;margin:0;
min-width:6.5rem}
.lk-paper .lk-now b{display:block;font-size:1.15rem;font-weight:650}
.lk-paper .lk-now span{color:var(--lk-soft);font-size:.84rem}
.lk-paper figure svg{display:block;margin:0 auto}
.lk-paper .lk-narrow{display:none}
.lk-paper .lk-card{border:1px solid var(--lk-line);border-radius:6px;padding:.8rem 1rem;
margin:.8rem 0;break-inside:avoid}
.lk-paper .lk-card.lk-gone{border-style:dashed;color:var(--lk-soft)}
.lk-paper .lk-card h4{margin:0;font-size:1.05rem;font-weight:650;display:flex;flex-wrap:wrap;
gap:.1rem .8rem;align-items:baseline}
.lk-paper .lk-card h4 span{color:var(--lk-soft);font-size:.84rem;font-weight:400}
.lk-paper .lk-why{margin:.3rem 0 .5rem}
.lk-paper .lk-why p{margin:.2rem 0}
.lk-paper .lk-part{display:grid;grid-template-columns:6.2rem minmax(0,1fr);gap:.1rem .9rem;
margin:.35rem 0}
.lk-paper .lk-part>b{color:var(--lk-soft);font-weight:400;font-size:.86rem;padding-top:.12rem}
.lk-paper .lk-part ul.lk-plain{list-style:none;padding:0;margin:0}
.lk-paper .lk-reads{columns:2;column-gap:1.6rem}
.lk-paper .lk-reads li{break-inside:avoid}
.lk-paper .lk-part p{margin:0 0 .2rem}
.lk-paper .lk-part li{margin:0 0 .2rem}
.lk-paper .lk-read{font-weight:600}
.lk-paper .lk-small{color:var(--lk-soft);font-size:.84rem;display:block}
.lk-paper .lk-later{color:var(--lk-warn);font-size:.86rem;display:block}
.lk-paper .lk-photos{display:flex;flex-wrap:wrap;gap:.7rem}
.lk-paper .lk-photos figure{margin:.3rem 0;max-width:14rem}
.lk-paper .lk-photos img{max-width:100%;height:auto;border-radius:4px;display:block}
.lk-paper .lk-mono{font-family:ui-monospace,SFMono-Regular,Menlo,Consolas,monospace;font-size:.8rem;
overflow-wrap:anywhere}
.lk-paper .lk-held{border-left:4px solid var(--lk-warn);background:var(--lk-warn-tint);
padding:.5rem .8rem;margin:.7rem 0}
@media screen and (max-width:640px){
.lk-paper .lk-wide{display:none}.lk-paper .lk-narrow{display:block}
.lk-paper .lk-card{padding:.7rem .8rem}
.lk-paper .lk-part{grid-template-columns:minmax(0,1fr);gap:0;margin:.5rem 0}
.lk-paper .lk-now li{flex:1 1 6.5rem}
.lk-paper .lk-reads{columns:1}
}
@media print{
.lk-paper nav{display:none}
.lk-paper .lk-product+.lk-product{break-before:page;margin-top:0}
.lk-paper .lk-checks{break-inside:avoid}
.lk-paper .lk-card{padding:2mm 3mm;margin:2mm 0}
.lk-paper .lk-now li{border:1px solid var(--lk-line)}
.lk-paper .lk-wide svg{max-width:100%}
}
"""
