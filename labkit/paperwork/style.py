"""How documents look: on a screen, on a telephone, in the dark, on paper."""

from __future__ import annotations

__all__ = ["NOTEBOOK", "PAPER", "SHARED"]

PAPER = """
:root{color-scheme:light dark}
html{background:var(--lk-desk)}
body{margin:0;padding:1.5rem 1rem;background:var(--lk-desk)}
:root,.lk-paper{--lk-desk:#eef0ee;--lk-sheet:#fff;--lk-ink:#1c2420;--lk-soft:#55615b;
--lk-line:#c9d1cc;--lk-tint:#f2f6f3;--lk-accent:#1f5d50;--lk-warn:#8a4b00;--lk-warn-tint:#fdf3e3}
@media (prefers-color-scheme:dark){:root,.lk-paper{--lk-desk:#121614;--lk-sheet:#1b211e;
--lk-ink:#e6ece8;--lk-soft:#a5b2ab;--lk-line:#3a4540;--lk-tint:#232b27;--lk-accent:#7cc9b6;
--lk-warn:#f0b765;--lk-warn-tint:#33291a}}
.lk-paper{max-width:50rem;margin:0 auto;padding:2.2rem 2.4rem;border-radius:4px;
box-shadow:0 1px 3px rgba(0,0,0,.18)}
@media (max-width:640px){body{padding:0}.lk-paper{padding:1.1rem 1rem;border-radius:0;
box-shadow:none}}
@media print{:root{color-scheme:light}:root,.lk-paper{--lk-desk:#fff;--lk-sheet:#fff;
--lk-ink:#000;--lk-soft:#3c3c3c;--lk-line:#9a9a9a;--lk-tint:#f3f3f3;--lk-accent:#123f36;
--lk-warn:#5c3200;--lk-warn-tint:#fff}
html,body{background:#fff}body{padding:0}
.lk-paper{max-width:none;padding:0;box-shadow:none;border-radius:0}}
@page{margin:14mm 15mm}
"""

NOTEBOOK = """
.lk-paper{--lk-sheet:var(--jp-layout-color0,#fff);--lk-ink:var(--jp-content-font-color1,#1c2420);
--lk-soft:var(--jp-content-font-color2,#55615b);--lk-line:var(--jp-border-color2,#c9d1cc);
--lk-tint:var(--jp-layout-color1,#f2f6f3);--lk-accent:var(--jp-content-link-color,#1f5d50);
--lk-warn:var(--jp-warn-color0,#8a4b00);--lk-warn-tint:transparent;
max-width:50rem;padding:.4rem .2rem}
"""

SHARED = """
.lk-paper{background:var(--lk-sheet);color:var(--lk-ink);
font:16px/1.5 "Source Sans 3","Segoe UI",Roboto,"Helvetica Neue",Arial,sans-serif;
overflow-wrap:break-word;font-variant-numeric:lining-nums}
.lk-paper h1{font-size:1.75rem;line-height:1.2;margin:0;font-weight:650;letter-spacing:-.01em}
.lk-paper .lk-kind{margin:0 0 .25rem;color:var(--lk-accent);font-size:.8rem;font-weight:600;
letter-spacing:.08em;text-transform:uppercase}
.lk-paper .lk-under{margin:.35rem 0 0;color:var(--lk-soft)}
.lk-paper header{border-bottom:2px solid var(--lk-accent);padding-bottom:.8rem;margin-bottom:1rem}
.lk-paper h2{font-size:1.12rem;margin:1.5rem 0 .5rem;color:var(--lk-accent);font-weight:650}
.lk-paper h3{font-size:1rem;margin:1rem 0 .35rem;font-weight:650}
.lk-paper p{margin:.4rem 0;max-width:44rem}
.lk-paper .lk-lead{font-size:1.06rem}
.lk-paper .lk-muted{color:var(--lk-soft);font-size:.86rem}
.lk-paper .lk-caution{border-left:4px solid var(--lk-warn);background:var(--lk-warn-tint);
padding:.5rem .8rem;margin:.7rem 0}
.lk-paper ul,.lk-paper ol{margin:.4rem 0;padding-left:1.35rem}
.lk-paper li{margin:.18rem 0}
.lk-paper ul.lk-ticks{list-style:none;padding-left:0}
.lk-paper ul.lk-ticks li{position:relative;padding-left:1.6rem}
.lk-paper ul.lk-ticks li::before,.lk-paper .lk-tick::after{content:"";box-sizing:border-box;
display:inline-block;width:.95rem;height:.95rem;border:1.5px solid currentColor;border-radius:2px}
.lk-paper ul.lk-ticks li::before{position:absolute;left:0;top:.28rem}
.lk-paper dl{display:grid;grid-template-columns:minmax(8rem,max-content) 1fr;gap:.2rem 1.2rem;
margin:.5rem 0}
.lk-paper dt{color:var(--lk-soft);float:none;width:auto;font-weight:400;margin:0;padding:0}
.lk-paper dd{margin:0;float:none;width:auto;padding:0}
.lk-paper .lk-table{margin:.5rem 0;max-width:100%}
.lk-paper table{border-collapse:collapse;width:100%;font-size:.93rem;margin:0;
background:transparent;color:inherit;table-layout:auto;border:0}
.lk-paper caption{text-align:left;color:var(--lk-soft);font-size:.86rem;padding-bottom:.3rem}
.lk-paper tbody tr,.lk-paper table tbody tr:nth-child(odd),
.lk-paper table tbody tr:hover{background:transparent}
.lk-paper th,.lk-paper td{text-align:left;vertical-align:top;padding:.3rem .9rem .3rem 0;
border:0;border-bottom:1px solid var(--lk-line);background:transparent;color:inherit;
white-space:normal;max-width:none}
.lk-paper th:last-child,.lk-paper td:last-child{padding-right:0}
.lk-paper thead th{font-weight:600;color:var(--lk-soft);font-size:.84rem;vertical-align:bottom;
border-bottom:1.5px solid var(--lk-ink)}
.lk-paper .lk-number{text-align:right;font-variant-numeric:tabular-nums lining-nums;
white-space:nowrap}
.lk-paper .lk-group th{padding-top:.85rem;font-weight:650;color:var(--lk-accent)}
.lk-paper tfoot td{border-bottom:0;border-top:1.5px solid var(--lk-ink);font-weight:600}
.lk-paper .lk-strong{font-weight:650}
.lk-paper .lk-quiet{color:var(--lk-soft)}
.lk-paper .lk-fixed{white-space:nowrap}
.lk-paper .lk-blank{min-width:4.5rem;height:1.9rem;border-bottom:1.5px solid var(--lk-ink)}
.lk-paper figure{margin:.7rem 0}
.lk-paper figcaption{color:var(--lk-soft);font-size:.86rem}
.lk-paper svg{max-width:100%;height:auto}
.lk-paper .lk-copy{border:1px solid var(--lk-line);background:var(--lk-tint);border-radius:4px;
padding:.7rem .9rem;margin:.5rem 0;user-select:all;-webkit-user-select:all}
.lk-paper .lk-side{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);gap:0 2rem;
align-items:start}
.lk-paper .lk-side>div>:first-child{margin-top:.4rem}
.lk-paper footer{margin-top:1.6rem;padding-top:.6rem;border-top:1px solid var(--lk-line);
color:var(--lk-soft);font-size:.84rem}
@media screen and (max-width:640px){
.lk-paper .lk-side{display:block}
.lk-paper dl{grid-template-columns:1fr;gap:0}
.lk-paper dd{margin:0 0 .4rem}
.lk-paper .lk-stack thead{position:absolute;width:1px;height:1px;overflow:hidden;
clip-path:inset(50%)}
.lk-paper .lk-stack table,.lk-paper .lk-stack tbody,.lk-paper .lk-stack tfoot,
.lk-paper .lk-stack tr,.lk-paper .lk-stack td,.lk-paper .lk-stack th{display:block}
.lk-paper .lk-stack tr{border-bottom:1px solid var(--lk-line);padding:.45rem 0}
.lk-paper .lk-stack td{border:0;padding:.08rem 0;text-align:left;display:flex;gap:.8rem;
white-space:normal}
.lk-paper .lk-stack td::before{content:attr(data-label);color:var(--lk-soft);flex:0 0 7.5rem}
.lk-paper .lk-stack td:first-child{font-weight:650}
.lk-paper .lk-stack td:first-child:not(.lk-blank)::before{display:none}
.lk-paper .lk-stack td.lk-blank{border-bottom:1px solid var(--lk-line);font-weight:400}
.lk-paper .lk-stack td:empty:not(.lk-blank):not(.lk-tick){display:none}
}
@media print{
.lk-paper{font-size:10.5pt;line-height:1.38}
.lk-paper h1{font-size:19pt}.lk-paper h2{font-size:12.5pt;margin:5mm 0 1.5mm}
.lk-paper h3{font-size:11pt}
.lk-paper table{font-size:9.5pt}
.lk-paper .lk-blank{height:6.4mm;border-bottom-width:.7pt}
.lk-paper caption{break-after:avoid}
.lk-paper h2,.lk-paper h3,.lk-paper .lk-group{break-after:avoid}
.lk-paper tr,.lk-paper li,.lk-paper .lk-copy,.lk-paper .lk-caution,.lk-paper figure,
.lk-paper dd{break-inside:avoid}
.lk-paper thead{display:table-header-group}
.lk-paper tfoot{display:table-row-group}
.lk-paper p,.lk-paper li{orphans:3;widows:3}
.lk-break{break-after:page}
}
"""
