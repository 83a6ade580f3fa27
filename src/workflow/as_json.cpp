#include "workflow/as_json.h"

#include <nlohmann/json.hpp>

#include "workflow/gates.h"

namespace evenbeam::workflow {

namespace {

using base::Json;

Json words_json(const std::vector<std::string>& words) {
  Json json = Json::array();
  for (const std::string& one : words) json.push_back(one);
  return json;
}

const char* kind_word(NextStep::Kind kind) {
  using Kind = NextStep::Kind;
  switch (kind) {
    case Kind::answer_stop:
      return "answer_stop";
    case Kind::make_capture:
      return "make_capture";
    case Kind::answer_attention:
      return "answer_attention";
    case Kind::accept_settings:
      return "accept_settings";
    case Kind::report_fault:
      return "report_fault";
    case Kind::nothing:
      break;
  }
  return "nothing";
}

}  // namespace

Json overrides_json(const Evaluation& evaluation) {
  Json json = Json::array();
  for (const Override& one : evaluation.overrides)
    json.push_back(Json{
        {"station", one.station}, {"findings", words_json(one.findings)}, {"reason", one.reason}, {"by", one.by}});
  return json;
}

Json to_json(const NextStep& next) {
  Json json{{"kind", kind_word(next.kind)}, {"station", next.station}, {"what", next.what}, {"why", next.why}};
  json["holds_back"] = words_json(next.holds_back);
  json["capture"] = Json();
  if (next.capture) {
    const CaptureSheet& c = *next.capture;
    json["capture"] = Json{{"move", c.move},         {"side", c.side},     {"level", c.level},
                           {"duration", c.duration}, {"record", c.record}, {"watch", c.watch}};
  }
  json["commands"] = words_json(next.commands);
  json["cautions"] = words_json(next.cautions);
  json["sharpen"] = next.sharpen.empty() ? Json() : Json(next.sharpen);
  return json;
}

Json to_json(const Commissioned& done) {
  const base::Verdict verdict = overall_verdict(done.evaluation);
  return Json{{"verdict", base::to_text(verdict)},
              {"exit_code", exit_code(done.evaluation)},
              {"result", journal::to_json(result_of(done.evaluation))},
              {"overrides", overrides_json(done.evaluation)},
              {"next", to_json(done.next)},
              {"entry", done.entry},
              {"accepted_by", done.accepted_by.empty() ? Json() : Json(done.accepted_by)},
              {"files", words_json(done.files)},
              {"report", done.report},
              {"remarks", words_json(done.remarks)}};
}

}  // namespace evenbeam::workflow
