#pragma once
// Every fixed word of the report in one table, so that another language is another table.
#include <string>
#include <string_view>
#include <vector>

#include "base/finding.h"

namespace evenbeam::report {

struct StationWords {
  std::string_view name, question;
};

struct Words {
  std::string_view language;  // BCP 47, for the page
  std::string_view record, part_sign, part_engineer, part_repeat;
  std::string_view pass, attention, stop, not_done;
  std::string_view proved, not_proved, nothing_proved, set_aside, verdict_stands, all_proved, to_do_first, settings,
      settings_none, overrides, overrides_none, cautions, signature, signature_line, name, role, place_date,
      signed_by, accepted, handed_over;
  std::string_view measured, interval, limit, method, stations_not_done, station, why, evidence, next, value, unit,
      unknown, key, number, numbers, note, of_peak, si_exact, all_settings, how_sure, to, none, of, more_follow;
  std::string_view machine, files, file, kind, digest, versions, program, evaluated, job, result_digest, repeat_text,
      more_rows, figure, attitude, seconds, drawn_to_scale;
  std::vector<StationWords> stations;
};

const Words& english();
std::string_view verdict_word(const Words& words, base::Verdict verdict);
std::string_view question(const Words& words, std::string_view station);  // empty where not known

}  // namespace evenbeam::report
