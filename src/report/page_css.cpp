// The look of the page: one column of text, no frames, numbers of equal width; on paper dark on white, nothing cut.
#include <fmt/format.h>

#include "report/page.h"
#include "report/svg.h"

namespace evenbeam::report {
namespace {

constexpr std::string_view colours = R"(
:root{--good:#00664B;--care:#7A4B00;--bad:#A3180F}
@media screen and (prefers-color-scheme:dark){:root{--good:#4CC9A0;--care:#F0B44C;--bad:#FF8A7A}}
)";

constexpr std::string_view screen = R"(
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink)}
body{margin:0 auto;max-width:60rem;padding:2.2rem 1.6rem 4rem;font:15px/1.5 "Segoe UI","Helvetica Neue","Liberation Sans",Arial,"DejaVu Sans",sans-serif;overflow-wrap:break-word}
a{color:inherit;text-decoration-color:var(--muted);text-underline-offset:.15em}
h1{font-size:2rem;line-height:1.15;margin:.1em 0 .3em;font-weight:600}
h2{font-size:1.12rem;margin:1.7em 0 .45em;font-weight:600}
h3{font-size:1.12rem;margin:0 0 .5em;font-weight:600}
h4{font-size:.95rem;margin:1.2em 0 .3em;font-weight:600}
p{margin:.4em 0}
ul{margin:.3em 0;padding:0;list-style:none}
i{font-style:normal;color:var(--muted)}
code{font:.82em "Cascadia Mono",Menlo,"Liberation Mono","DejaVu Sans Mono",monospace;color:var(--muted);overflow-wrap:anywhere}
.kicker{color:var(--muted);margin:0}
.facts span{display:inline-block;margin-right:1.6em;font-size:.9rem}
.small,.who{font-size:.87rem;color:var(--muted)}
.part+.part{margin-top:4rem;border-top:1px solid var(--ink);padding-top:.4rem}
.part-head{font-size:1.5rem;margin:.6em 0 1em}
.verdict{font-weight:600;white-space:nowrap}
.verdict .shape{width:1.02em;height:1.02em;vertical-align:-.16em;margin-right:.32em}
.verdict.pass{color:var(--good)}.verdict.attention{color:var(--care)}.verdict.stop{color:var(--bad)}.verdict.not-done{color:var(--muted)}
.judgement{border-top:1px solid var(--ink);border-bottom:1px solid var(--ink);padding:.7em 0;margin:.9em 0}
.overall{font-size:2.1rem;line-height:1.1;margin:.1em 0}
.counts{margin:.5em 0}
.count{margin-right:1.4em}.count .verdict{font-weight:400}
.two{display:grid;grid-template-columns:1fr 1fr;gap:0 2.4rem}
.two li,.plain li{margin:.35em 0}
.two .name{font-weight:600;margin-right:.2em}
.two .name .verdict{margin-right:.25em}
.two .open{font-size:.87rem}.two .open a{font-weight:600}.two .open span{margin-right:.6em}
.two table{margin-top:.2em}
.cautions ul{columns:2;column-gap:2.4rem;font-size:.87rem}
.cautions li{break-inside:avoid;margin:0 0 .5em}
.cautions .job{font-weight:600}
.station{margin:0 0 3rem;padding-top:1rem;border-top:1px solid var(--faint)}
.station h3{display:flex;justify-content:space-between;align-items:baseline;gap:1.5rem}
.station h3 .name{font-weight:400;color:var(--muted);margin-right:.4em}
.answer{font-size:1.12rem;line-height:1.45;max-width:46rem;margin:.2em 0 .8em}
figure{margin:1.4em 0}
figcaption{font-size:.92rem;margin-bottom:.7em;max-width:46rem}
.findings li{margin:.7em 0}
.findings li p{margin:0}
.evidence{font-size:.87rem;padding-left:1.5em}
.station>.evidence{padding-left:0}
.evidence span{display:inline-block;margin-right:1.4em}
.next{max-width:46rem}
table{border-collapse:collapse;width:100%;margin:.5em 0 1em;font-size:.9rem;font-variant-numeric:tabular-nums lining-nums}
th,td{text-align:left;vertical-align:baseline;padding:.22em 1em .22em 0;font-weight:400;border-bottom:1px solid var(--faint)}
thead th{color:var(--muted);font-size:.84rem;border-bottom:1px solid var(--muted)}
th:last-child,td:last-child{padding-right:0}
.number{text-align:right}
.rows{width:auto;min-width:50%}
.values:not(.sheet) td:nth-last-child(2){font-size:.84em;color:var(--muted)}
.values.sheet th:first-child{min-width:12em}.values.sheet td:last-child{min-width:10em}
.missing th{width:42%}.missing p{margin:0 0 .2em}
.fact th{width:34%;color:var(--muted)}
.files code{font-size:.72em}
.part>h3{margin-top:1.3em}
.files th{overflow-wrap:anywhere;min-width:9em}
.sign td{height:3.6rem;width:21%;border-bottom:1px solid var(--ink);border-left:.6em solid var(--paper);vertical-align:top}
.sign td span{font-size:.8rem;color:var(--muted)}
.sign th{vertical-align:bottom;border:0}
@media (max-width:40rem){.two{grid-template-columns:1fr}.cautions ul{columns:1}}
)";

constexpr std::string_view print = R"(
@media print{
html{font-size:8.3pt}
body{max-width:none;padding:0;font-size:1rem;line-height:1.36}
.part+.part{break-before:page;border:0;margin:0;padding:0}
h1,h2,h3,h4,figcaption,.answer{break-after:avoid}
h2{margin:.75em 0 .3em}h1{font-size:1.75rem}.overall{font-size:1.85rem}
.judgement{margin:.4em 0;padding:.3em 0}.counts{margin:.25em 0}
figure,.keep,.head,.answer,tr,li,.evidence,.judgement,.cautions li{break-inside:avoid}
.head{break-after:avoid}
thead{display:table-header-group}
p,li{orphans:3;widows:3}
a{text-decoration:none}
.station{margin-bottom:1.1rem;padding-top:.7rem}
.cautions ul{font-size:.78rem;line-height:1.25;column-gap:2rem}
.cautions li{margin-bottom:.35em}
table{margin-bottom:.6em}
th,td{padding-top:.08em;padding-bottom:.08em}
.sign td{height:2.3rem}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}
}
)";

std::string hexadecimal_start(const std::string& digest) {
  std::string out;
  for (const char c : digest.substr(0, 16))
    if ((c >= '0' && c <= '9') || (c >= 'a' && c <= 'f')) out += c;
  return out;
}

}  // namespace

std::string page_css(const ReportInput& input) {
  const std::string_view size = input.paper == Paper::a4 ? "A4" : "letter";
  // The foot ties each sheet of paper to its result.json. Only hexadecimal digits enter the style sheet.
  const std::string digest = hexadecimal_start(input.result_sha256);
  return figure_css() + std::string(colours) + std::string(screen) + std::string(print) +
         fmt::format(
             "@page{{size:{};margin:11mm 17mm 14mm;@bottom-right{{content:counter(page) \" / \" counter(pages);"
             "font:8pt sans-serif;color:#5B6167}}@bottom-left{{content:\"{}\";font:8pt "
             "sans-serif;color:#5B6167}}}}\n",
             size, digest.empty() ? "" : "result.json " + digest);
}

}  // namespace evenbeam::report
