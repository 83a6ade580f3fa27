#include <nlohmann/json.hpp>

#include "base/json.h"
#include "exporting/settings_sheet.h"

namespace evenbeam::exporting {

std::string to_json_text(const std::vector<SettingsForm>& forms) {
  base::Json list = base::Json::array();
  for (const SettingsForm& form : forms) {
    base::Json rows = base::Json::array();
    for (const SheetRow& row : form.rows)
      rows.push_back({{"key", row.key},
                      {"symbol", row.symbol},
                      {"name", row.name},
                      {"value", row.value ? base::Json(*row.value) : base::Json()},
                      {"unit", row.unit},
                      {"how", row.how}});
    list.push_back({{"form", form.form}, {"title", form.title}, {"remarks", form.remarks}, {"rows", rows}});
  }
  return base::to_text(base::Json{{"format", "evenbeam.forms/1"}, {"forms", list}});
}

}  // namespace evenbeam::exporting
