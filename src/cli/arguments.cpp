#include "cli/arguments.h"

#include <CLI/CLI.hpp>
#include <ostream>

#include "cli/commands.h"
#include "workflow/exports.h"

namespace evenbeam::cli {
namespace {

constexpr const char* kAbout =
    "Commissioning bench for dual-drive gantries: from nameplate and recordings to settings, proof and a signed "
    "record.\n"
    "It computes and advises; it never moves a machine.";
constexpr const char* kExits =
    "Exit codes: 0 pass, 1 attention or nothing done yet, 2 stop, 3 wrong input, 4 a fault of the program itself.\n"
    "A job is a folder: evenbeam new press-7, then evenbeam next press-7.";

std::string joined_forms() {
  std::string words;
  for (const std::string& form : workflow::export_forms()) words += (words.empty() ? "" : ", ") + form;
  return words;
}

void add_job_options(CLI::App& command, JobOptions& options) {
  command.add_option("DIR", options.folder, "The job folder")->required();
  command.add_option("--recordings", options.recordings, "Folder of the captures, instead of DIR/recordings");
  command.add_option("--results", options.results,
                     "Folder for everything written; DIR itself is then left untouched");
  command.add_flag("--json", options.json, "Print JSON for programs instead of words for people");
}

// Every command is declared with what it does, an example, and what it runs.
struct CommandLine {
  CLI::App app{kAbout, "evenbeam"};
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
  int code = 0;

  explicit CommandLine(Console& where) : console(where) {
    app.set_version_flag("--version", program_name());
    app.require_subcommand(1);
    app.footer(kExits);
    declare_new();
    declare_next();
    declare_ready();
    declare_commission();
    declare_report();
    declare_export();
    declare_history();
    declare_rehearse();
    declare_simulate();
    declare_demo();
    declare_serve();
  }

  CLI::App& declare(const char* name, const char* what, const char* example, std::function<int()> task) {
    CLI::App& command = *app.add_subcommand(name, what);
    command.footer(std::string("Example: ") + example);
    command.callback([this, task = std::move(task)] { code = task(); });
    return command;
  }

  void declare_new() {
    CLI::App& command = declare("new", "Begin a job: a folder with a machine.toml to fill in", "evenbeam new press-7",
                                [this] { return run_new(new_folder, new_json, console); });
    command.add_option("DIR", new_folder, "The folder to make")->required();
    command.add_flag("--json", new_json, "Print JSON for programs instead of words for people");
  }

  void declare_next() {
    CLI::App& command =
        declare("next", "Name the one thing to do now: move, level, capture, cautions",
                "evenbeam next press-7, evenbeam next press-7 --after drive-b",
                [this] { return repair.after ? run_next_after(next, repair, console) : run_next(next, console); });
    add_job_options(command, next);
    auto* after = command.add_option(
        "--after", repair.after,
        "After a repair: what to do again, and why. drive-a, motor-a, scale-a (or -b), belt, guide, crash");
    command
        .add_option("--since", repair.since,
                    "Number of the last evaluation before the repair: what of the list is still open")
        ->needs(after);
  }

  void declare_ready() {
    CLI::App& command =
        declare("ready", "The check sheet before the first push: what is good, what is open",
                "evenbeam ready press-7 --sheet", [this] { return run_ready(ready, ready_sheet, console); });
    add_job_options(command, ready);
    command.add_flag("--sheet", ready_sheet,
                     "Write ready.toml to fill in, or add the lines that it lacks; nothing written there is changed");
  }

  void declare_commission() {
    CLI::App& command = declare("commission", "Evaluate everything: verdicts, settings, report, journal",
                                "evenbeam commission press-7 --results /media/stick/press-7",
                                [this] { return run_commission(commission, console); });
    add_job_options(command, commission.job);
    auto* station = command.add_option("--override", commission.override_station,
                                       "Go on in spite of this stop: STATION, or STATION.FINDING for one of "
                                       "several (each line of `ready` by itself); needs --reason and --by");
    auto* reason = command.add_option("--reason", commission.reason, "Why, in words; the record keeps and shows it");
    auto* by = command.add_option("--by", commission.by, "Who overrides or accepts");
    station->needs(reason)->needs(by);
    command.add_flag("--accept", commission.accept, "Accept the proposed settings; needs --by")->needs(by);
  }

  void declare_report() {
    CLI::App& command =
        declare("report", "Make the report anew; the journal is left as it is",
                "evenbeam report press-7 --paper letter", [this] { return run_report(report, console); });
    add_job_options(command, report.job);
    command.add_option("--paper", report.paper, "Paper that the report prints on: a4 or letter")
        ->check(CLI::IsMember({"a4", "letter"}))
        ->capture_default_str();
  }

  void declare_demo() {
    CLI::App& command =
        declare("demo", "Write an invented job to a folder and commission it", "evenbeam demo", [this] {
          return first_day ? run_first_day(demo_folder, demo_json, console)
                           : run_demo(demo_folder, demo_json, console);
        });
    command.add_flag("--first-day", first_day,
                     "Play its first day instead, from bare rails to handover: three things are wrong on purpose");
    command.add_option("DIR", demo_folder, "The folder to write")->capture_default_str();
    command.add_flag("--json", demo_json, "Print JSON for programs instead of words for people");
  }

  void declare_export() {
    CLI::App& command =
        declare("export", "Settings in the terms of a controller, and as structured text (IEC 61131-3)",
                "evenbeam export press-7 --form percent", [this] { return run_export(exported, console); });
    add_job_options(command, exported.job);
    auto* form =
        command.add_option("--form", exported.form,
                           "One form to print: " + joined_forms() + "; without it all are written to the results");
    command.add_option("--settings", exported.settings, "A settings.toml to take instead of what the job proposes");
    command.add_option("--to", exported.to, "File to write the form to, instead of printing")->needs(form);
  }

  void declare_serve() {
    CLI::App& command = declare("serve", "Open the job as a page in a browser on this machine",
                                "evenbeam serve press-7", [this] { return run_serve(serve, serve_port, console); });
    add_job_options(command, serve);
    command.add_option("--port", serve_port, "Port on 127.0.0.1; 0 takes any free one")
        ->check(CLI::Range(0, 65535))
        ->capture_default_str();
  }

  void declare_rehearse() {
    CLI::App& command =
        declare("rehearse", "Which commands go to which side, and what a command to one side would do",
                "evenbeam rehearse press-7 --script first-switch-on.toml",
                [this] { return run_rehearse(rehearse, console); });
    add_job_options(command, rehearse.job);
    auto* script = command.add_option("--script", rehearse.script,
                                      "A session to be judged (format evenbeam.session/1); exit code 2 where a wrong "
                                      "command would do more than guides or mountings take");
    command.add_option("--operation", rehearse.operation, "One operation in every state, with reasons")
        ->excludes(script);
    command.add_option("--with", rehearse.with,
                       "What is broken on the virtual gantry (format evenbeam.defects/1); may be given again");
  }

  void declare_simulate() {
    CLI::App& command = declare("simulate", "Write recordings of the virtual gantry, as a job folder of their own",
                                "evenbeam simulate press-7 --run move --seed 3 --with brake-drags.toml",
                                [this] { return run_simulate(simulate, console); });
    command.add_option("DIR", simulate.folder, "The job folder")->required();
    command.add_option("--into", simulate.into, "The folder to make, instead of DIR/simulated-SEED");
    command.add_option("--run", simulate.takes,
                       "standstill, push, multisine, jog, search, move, skew-step, fault or one-side; may be given "
                       "again; all where none is given");
    command.add_option("--with", simulate.with,
                       "What is broken on the virtual gantry (format evenbeam.defects/1); may be given again");
    command.add_option("--seed", simulate.seed, "Of everything drawn: places, racks, phases, noise")
        ->capture_default_str();
    command.add_option("--form", simulate.form, "Of the files: comma, semicolon (decimal comma) or tab")
        ->capture_default_str();
    command.add_flag("--json", simulate.json, "Print JSON for programs instead of words for people");
  }

  void declare_history() {
    CLI::App& command = declare("history", "List the evaluations, or compare two: what changed and why",
                                "evenbeam history press-7 3 5", [this] { return run_history(history, console); });
    add_job_options(command, history.job);
    auto* from = command.add_option("A", history.from, "Number of an evaluation");
    auto* to = command.add_option("B", history.to, "Number of a later one to compare it with");
    from->needs(to);
    command.add_flag("--verify", history.verify,
                     "Hash everything anew and say what differs (exit code 2 where it does)");
  }
};

}  // namespace

int run(int argc, const char* const* argv, Console& console) {
  CommandLine line(console);
  try {
    line.app.parse(argc, argv);
    return line.code;
  } catch (const CLI::ParseError& error) {
    const bool asked = error.get_exit_code() == static_cast<int>(CLI::ExitCodes::Success);
    line.app.exit(error, console.out, console.err);
    return asked ? 0 : kExitInputError;
  }
}

}  // namespace evenbeam::cli
