#include "workflow/results.h"

#include "machine/settings_file.h"
#include "report/pdf.h"
#include "squareness/skew_map.h"
#include "workflow/exports.h"
#include "workflow/record_sheet.h"

namespace evenbeam::workflow {
namespace {

void put(base::Disk& disk, const std::string& path, const std::string& content, Commissioned& done) {
  disk.write(path, content);
  done.files.push_back(path);
}

}  // namespace

void write_results(base::Disk& disk, const Places& places, const std::string& result_text, Commissioned& done) {
  put(disk, base::join_path(places.results, "result.json"), result_text, done);
  if (done.evaluation.settings)
    put(disk, base::join_path(places.results, "settings.toml"), machine::write_settings(*done.evaluation.settings),
        done);
  for (const ExportFile& file : export_files(exports_of(done.evaluation)))
    put(disk, base::join_path(places.results, file.name), file.content, done);
  const base::StationResult* square = find_station(done.evaluation, "square");
  if (const auto table = square != nullptr ? squareness::compensation_csv(*square) : std::nullopt)
    put(disk, base::join_path(places.results, "compensation.csv"), *table, done);
}

void write_report(base::Disk& disk, const CommissionRequest& request, const std::string& evaluated_at,
                  const std::string& result_text, Commissioned& done) {
  const std::string html = base::join_path(request.places.results, "report.html");
  report::ReportInput input = record_sheet(done, request.program, evaluated_at, result_text);
  if (request.letter) input.paper = report::Paper::letter;
  put(disk, html, report::report_html(input), done);
  done.report = html;
}

void print_report(const CommissionRequest& request, Commissioned& done) {
  if (request.browser.empty()) {
    done.remarks.push_back(
        "No PDF: no browser is installed that could print it. report.html is complete and prints from any.");
    return;
  }
  const std::string pdf = base::join_path(request.places.results, "report.pdf");
  const report::PdfResult printed = report::write_pdf(done.report, pdf, request.browser);
  if (printed.written)
    done.files.push_back(pdf);
  else
    done.remarks.push_back("No PDF: " + printed.reason);
}

}  // namespace evenbeam::workflow
