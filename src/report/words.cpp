#include "report/words.h"

#include "base/check.h"

namespace evenbeam::report {
namespace {

Words english_words() {
  Words w;
  w.language = "en";
  w.record = "Commissioning record", w.part_sign = "For the person who signs";
  w.part_engineer = "For the engineer", w.part_repeat = "To repeat the work";
  w.pass = "Pass", w.attention = "Attention", w.stop = "Stop", w.not_done = "Not done";
  w.proved = "What was proved", w.not_proved = "What was not proved";
  w.set_aside = "Set aside by a person, with the reason written below:", w.verdict_stands = "The verdict stands.";
  w.nothing_proved = "Nothing has been proved yet.", w.all_proved = "Every station that belongs to this job passed.";
  w.to_do_first = "Next step";
  w.settings = "Settings", w.settings_none = "No settings were proposed in this evaluation.";
  w.overrides = "Stops set aside, with reasons", w.overrides_none = "No stop was set aside.";
  w.cautions = "Cautions", w.signature = "Signatures";
  w.signature_line =
      "Signed for what is stated on this page, as far as it was proved, for the machine and the files listed in the "
      "last part.";
  w.name = "Name", w.role = "Role", w.place_date = "Place, date", w.signed_by = "Signature";
  w.accepted = "Accepted by", w.handed_over = "Handed over by";
  w.measured = "found", w.interval = "95 % interval", w.limit = "limit", w.method = "by",
  w.stations_not_done = "Stations not done", w.station = "Station", w.why = "What is missing", w.evidence = "seen in",
  w.next = "Next:";
  w.value = "Value", w.how_sure = "How sure, by what", w.to = "to", w.none = "none", w.of = "of",
  w.more_follow = "more on the pages that follow", w.unit = "Unit", w.unknown = "unknown",
  w.key = "Key in result.json", w.number = "Quantity";
  w.numbers = "Numbers", w.note = "Note", w.of_peak = "Of peak", w.si_exact = "SI, exact",
  w.all_settings = "Settings in all forms";
  w.machine = "Machine", w.files = "Files", w.file = "File", w.kind = "Kind", w.digest = "SHA-256";
  w.versions = "Versions and digests", w.program = "evenbeam", w.evaluated = "Evaluated", w.job = "Job";
  w.result_digest = "SHA-256 of result.json";
  w.repeat_text =
      "Put the files listed here into a job folder, compare their SHA-256 with this list, and run the same program "
      "version on it: evenbeam commission DIR. Its result.json then has the digest given above. evenbeam history DIR "
      "--verify compares an older record with the files as they are now.";
  w.more_rows = "more in result.json", w.figure = "Figure", w.attitude = "The machine from above";
  w.seconds = "s", w.drawn_to_scale = "Drawn to scale.";
  w.stations = {{"ready", "Is it fit to be moved?"},
                {"survey", "What machine is this?"},
                {"limits", "How much skew and yaw force do guides and mountings take?"},
                {"nudge", "Do both sides agree in sign, scale, strength and friction?"},
                {"marks", "Where are the reference marks, and which offsets square the bridge?"},
                {"square", "How square is it?"},
                {"fit", "What are the machine's real parameters?"},
                {"loops", "Which share, gains and filters hold everywhere?"},
                {"trips", "Which thresholds catch a fault in time?"},
                {"rehearse", "Which commands go to which side, and what happens otherwise?"},
                {"causes", "Why do the sides fight?"},
                {"prove", "Does it do what was promised?"},
                {"handover", "What does the next person need?"}};
  return w;
}

}  // namespace

const Words& english() {
  static const Words words = english_words();
  return words;
}

std::string_view verdict_word(const Words& words, base::Verdict verdict) {
  switch (verdict) {
    case base::Verdict::pass:
      return words.pass;
    case base::Verdict::attention:
      return words.attention;
    case base::Verdict::stop:
      return words.stop;
    case base::Verdict::not_done:
      return words.not_done;
  }
  base::check(false, "a verdict is one of four");
  return {};
}

std::string_view question(const Words& words, std::string_view station) {
  for (const StationWords& s : words.stations)
    if (s.name == station) return s.question;
  return {};
}

}  // namespace evenbeam::report
