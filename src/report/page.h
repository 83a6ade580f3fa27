#pragma once
// The three parts of the report, each for one reader. Inside the report only; report.h is the way in.
#include <string>

#include "report/report.h"
#include "report/shown.h"

namespace evenbeam::report {

std::string sign_part(const ReportInput& input, const Words& words);      // page_sign.cpp
std::string engineer_part(const ReportInput& input, const Words& words);  // page_engineer.cpp
std::string repeat_part(const ReportInput& input, const Words& words);    // page_repeat.cpp
std::string page_css(const ReportInput& input);                           // page_css.cpp

PersonUnits person_units(const ReportInput& input);
// The finding that gives a station its verdict: the first of that verdict; nullptr where it has none.
const base::Finding* deciding(const base::StationResult& station);
// The settings sheet; `front_only` for the first page.
std::string settings_tables(const ReportInput& input, const Words& words, bool front_only);
// Its rows on the first page, in order.
std::vector<const SettingsRow*> front_settings(const ReportInput& input);
// The table of one station's values, and the tables of those that are lists of rows (page_values.cpp).
std::string value_tables(const base::StationResult& station, const ReportInput& input, const Words& words);

}  // namespace evenbeam::report
