#pragma once
// The commands as they are typed: each is declared once, with what it does, its examples and what it runs; --help,
// the man page and the completion for shells are all made from these declarations. Private to this room.
#include <CLI/CLI.hpp>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "cli/commands.h"
#include "cli/manual.h"

namespace evenbeam::cli {

struct CommandLine {
  CLI::App app;
  Console& console;
  std::string new_folder;
  bool new_json = false;
  JobOptions next;
  RepairOptions repair;
  JobOptions ready;
  bool ready_sheet = false;
  CommissionOptions commission;
  ReportOptions report;
  HistoryOptions history;
  ExportOptions exported;
  JobOptions serve;
  int serve_port = 0;
  RehearseOptions rehearse;
  SimulateOptions simulate;
  std::string demo_folder = "evenbeam-demo";
  bool demo_json = false, first_day = false;
  std::string manual_form;
  int code = 0;
  std::map<const CLI::App*, std::vector<Example>> examples;
  std::map<const CLI::Option*, std::vector<std::string>> choices;  // for completion

  explicit CommandLine(Console& where);
  CommandLine(const CommandLine&) = delete;  // the declarations point at these fields
  CommandLine& operator=(const CommandLine&) = delete;
  Manual manual() const;

 private:
  CLI::App& declare(const char* name, const char* what, std::vector<Example> uses, std::function<int()> task);
  void declare_new();
  void declare_next();
  void declare_ready();
  void declare_commission();
  void declare_report();
  void declare_demo();
  void declare_export();
  void declare_serve();
  void declare_rehearse();
  void declare_simulate();
  void declare_history();
  void declare_manual();
};

}  // namespace evenbeam::cli
