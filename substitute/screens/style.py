"""The look of the app beyond the theme: ink on paper, a title line of 60 pixels, tables, bars and the phone's width."""

STYLE = """
:root { --ink: light-dark(#26221C, #EDE7DB); --soft: light-dark(#5A5447, #BDB4A3); --rule: light-dark(#D8D0BF, #443E35); --edge: light-dark(#B9B09E, #6B6355);
  --paper: light-dark(#FCFAF4, #191715); --shade: light-dark(#F1ECE0, #26231F); --more: light-dark(#005A8C, #7CC4EE); --less: light-dark(#A84300, #F0A35E);
  --bad: light-dark(#A63A00, #F39A5B); --good: light-dark(#00664A, #5FD0A6); }
@media (prefers-contrast: more) { :root { --ink: light-dark(#000, #FFF); --soft: light-dark(#2B2720, #E6E0D4); --rule: var(--ink); --edge: var(--ink); } }
[data-testid="stMainBlockContainer"] { max-width: 76rem; padding: 1rem 2rem 3rem; }
[data-testid="stHeader"] { background: transparent; pointer-events: none; min-height: 2.6rem; height: 2.6rem; } [data-testid="stHeader"] * { pointer-events: auto; } [data-testid="stToolbar"] > div:empty { pointer-events: none; }
[data-testid="stMainBlockContainer"] > [data-testid="stVerticalBlock"] { gap: .55rem; }
.st-key-head { gap: .1rem 1rem; align-items: baseline; min-height: 2.2rem; padding-right: 3rem; }
h1 { font-size: 1.6rem !important; padding: 0 !important; letter-spacing: .01em; } h2, h3 { padding: .3rem 0 .1rem !important; } h2 { font-size: 1.15rem !important; } h2.headline { font-size: 1.3rem !important; } h3 { font-size: 1.08rem !important; }
.lead { font-family: Georgia, "Times New Roman", serif; font-style: italic; color: var(--soft); margin: 0; font-size: .98rem; line-height: 1.3; }
.st-key-question { background: var(--shade); border-left: 3px solid var(--edge); padding: .55rem .9rem .7rem; gap: .4rem; }
.st-key-question [data-testid="stWidgetLabel"] { min-height: 1.2rem; margin-bottom: .1rem; } .st-key-question [data-testid="stWidgetLabel"] p { font-size: .82rem; color: var(--soft); }
.st-key-answer { gap: .5rem; }
.headline { font-weight: 500; padding: 0 !important; font-family: 'Iowan Old Style', 'Palatino Linotype', Palatino, Georgia, serif; font-size: 1.3rem; line-height: 1.35; margin: .2rem 0 0; } .headline small { font-family: "Source Sans", sans-serif; font-size: .86rem; color: var(--soft); }
.next { margin: 0; font-size: .95rem; } .next b { font-weight: 600; }
.tag { display: inline-block; border: 1px solid currentColor; padding: 0 .4rem; font-size: .75rem; letter-spacing: .03em; white-space: nowrap; }
.sheet { overflow-x: auto; font-size: .9rem; } .sheet table, table.bars { width: 100%; border-collapse: collapse; font-variant-numeric: tabular-nums; }
.sheet th, .sheet td { text-align: left; vertical-align: top; padding: .3rem .9rem .3rem 0; border-bottom: 1px solid var(--rule); }
.sheet th { font-weight: 400; color: var(--soft); border-bottom-color: currentColor; vertical-align: bottom; font-size: .82rem; } .sheet .whole { white-space: nowrap; } .sheet .num { text-align: right; white-space: nowrap; }
.sheet tr.moved td { background: color-mix(in srgb, var(--shade) 70%, transparent); } .sheet tr.gone td:first-child { text-decoration: line-through; } .sheet td:last-child, .sheet th:last-child { padding-right: 0; }
[data-testid="stCaptionContainer"] { opacity: 1 !important; } [data-testid="stCaptionContainer"] p { color: var(--soft); }
[data-tag], [data-tag] *, [data-testid="stBaseButton-primary"] *, [data-testid="stBaseButton-primaryFormSubmit"] * { color: light-dark(#FFFFFF, #10202B) !important; }
[data-testid="stExpander"] summary { padding-top: .35rem; padding-bottom: .35rem; } [data-testid="stButton"] button, [data-testid="stDownloadButton"] button, [data-testid="stPopover"] button { min-height: 2.2rem; padding: .1rem .75rem; }
div[class*="st-key-entry"] { align-items: flex-start; flex-wrap: nowrap; } div[class*="st-key-entry"] > div:first-child { flex: 1 1 auto; min-width: 0; }
table.bars { font-size: .88rem; } table.bars th, table.bars td { padding: .16rem .5rem .16rem 0; border-bottom: 1px solid var(--rule); text-align: left; font-weight: 400; } table.bars thead th { color: var(--soft); font-size: .8rem; vertical-align: bottom; }
table.bars .num { text-align: right; white-space: nowrap; } table.bars tbody th { width: 30%; }
.track { display: block; position: relative; height: .85rem; background: var(--shade); min-width: 4rem; } .track i { position: absolute; top: 0; bottom: 0; background: var(--more); } .track i.less { background: repeating-linear-gradient(45deg, var(--less) 0 4px, color-mix(in srgb, var(--less) 45%, transparent) 4px 7px); }
.track i.bad { background: repeating-linear-gradient(45deg, var(--bad) 0 4px, color-mix(in srgb, var(--bad) 45%, transparent) 4px 7px); } .track b { position: absolute; top: -2px; bottom: -2px; width: 0; border-left: 2px solid var(--ink); } .track i.haze { background: transparent; border: 1.5px dashed var(--ink); }
.mark { font-weight: 600; white-space: nowrap; } .mark.bad { color: var(--bad); } .mark.unknown { color: var(--ink); border-bottom: 1px dashed; } .mark.good { color: var(--good); }
.panel { border: 1px solid var(--rule); padding: .3rem .7rem .5rem; min-width: 12rem; flex: 1 1 14rem; } .panel h4 { margin: .1rem 0 .3rem; font-size: .92rem; font-weight: 600; padding: 0; } .panels { display: flex; flex-wrap: wrap; gap: .7rem; }
 .bench, .bench dt, .bench dd { margin-left: 0 !important; padding-left: 0 !important; } .bench { font-size: .88rem; line-height: 1.45; margin: 0; } .bench dt { color: var(--soft); font-size: .78rem; margin-top: .35rem; } .bench dd { margin: 0; } .bench .name { font-weight: 600; font-size: .98rem; }
[data-testid="stSidebarContent"] [data-testid="stVerticalBlock"] { gap: .45rem; } [data-testid="stSidebarHeader"] { padding-top: .6rem; padding-bottom: .2rem; height: 2.4rem; } [data-testid="stSidebarNavItems"] { padding-top: 0; }
.st-key-keep, .st-key-style { position: absolute; height: 0; overflow: hidden; } .st-key-phone_bench { display: none; }
.one-line { list-style: none; margin: 0 !important; padding: 0 !important; } .one-line li { margin: 0 !important; display: flex; align-items: baseline; gap: .5rem; padding: .34rem 0; border-bottom: 1px solid var(--rule); white-space: nowrap; font-variant-numeric: tabular-nums; }
.one-line .what { flex: 1 1 auto; overflow: hidden; text-overflow: ellipsis; } .one-line .grams { font-weight: 600; min-width: 6.2rem; text-align: right; } .one-line input { width: 1.3rem; height: 1.3rem; margin: 0; align-self: center; accent-color: var(--more); } .one-line .note { flex: 0 1 22rem; overflow: hidden; text-overflow: ellipsis; color: var(--soft); font-size: .84rem; }
.one-line li:has(input:checked) .what, .one-line li:has(input:checked) .grams { color: var(--soft); text-decoration: line-through; }
.st-key-route { align-items: flex-start; flex-wrap: nowrap; gap: .4rem; } .st-key-route > div:first-child { flex: 0 0 auto; } .st-key-stops { gap: 0; min-width: 0; } div[class*="st-key-stop_"] { height: 38px; min-height: 38px; flex-wrap: nowrap; align-items: center; gap: .7rem; border-bottom: 1px solid var(--rule); overflow: hidden; }
div[class*="st-key-stop_"] button { white-space: nowrap; } .stop-words { white-space: nowrap; overflow: hidden; text-overflow: ellipsis; font-size: .86rem; color: var(--soft); } .st-key-stops [data-testid="stHtml"] { min-width: 0; }
@media (max-width: 1100px) and (min-width: 641px) { [data-testid="stSidebar"][aria-expanded="true"] { width: 230px !important; min-width: 230px !important; } [data-testid="stMainBlockContainer"] { padding-left: 1.3rem; padding-right: 1.3rem; } }
@media (max-width: 640px) { [data-testid="stMainBlockContainer"] { padding: 2.7rem .9rem 2rem; } .st-key-head { padding-right: 0; gap: 0; } .lead { font-size: .86rem; line-height: 1.2; } h1 { font-size: 1.3rem !important; }
  .st-key-question { padding: .4rem .6rem .5rem; } .st-key-phone_bench { display: flex; } h2.headline { font-size: 1.12rem !important; }
  .sheet.blocks thead { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; } .sheet.blocks table, .sheet.blocks tbody, .sheet.blocks tr, .sheet.blocks td { display: block; width: auto; }
  .sheet.blocks tr { padding: .5rem 0; border-bottom: 1px solid var(--edge); } .sheet.blocks td { border: 0; padding: .08rem 0 .08rem 8.2rem; text-indent: -8.2rem; text-align: left; } .sheet.blocks td.none { display: none; }
  .sheet.blocks td::before { content: attr(data-of); display: inline-block; width: 8.2rem; text-indent: 0; color: var(--soft); } .sheet.blocks td:first-child { font-weight: 600; padding-left: 0; text-indent: 0; }
  .sheet.blocks td:first-child::before { content: none; } .sheet.blocks .whole { white-space: normal; } .sheet.slim .wide { display: none; } .sheet.slim th, .sheet.slim td { padding-right: .5rem; } .one-line .note { display: none; } .one-line.noted li { flex-wrap: wrap; } .one-line.noted .note { display: block; order: 9; flex: 1 1 100%; white-space: normal; } .stop-words { font-size: .8rem; }
  table.bars .wide { display: none; } .track { min-width: 2.2rem; } div[class*="st-key-entry"] button { padding: .1rem .5rem; } }
@media print { [data-testid="stSidebar"], [data-testid="stHeader"], [data-testid="stButton"], [data-testid="stDownloadButton"], [data-testid="stPopover"], .st-key-question, .st-key-phone_bench, [data-testid="stPageLink"] { display: none !important; } [data-testid="stMainBlockContainer"] { max-width: none; padding: 0; } }
"""
