#include "cli/command_line.h"

#include <ostream>

#include "exporting/redo.h"
#include "rehearsal/captures.h"
#include "workflow/exports.h"
#include "workflow/stations.h"

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

std::vector<std::string> station_names() {
  std::vector<std::string> names;
  for (const workflow::Station& station : workflow::stations()) names.push_back(station.name);
  return names;
}

std::vector<std::string> take_names() {
  std::vector<std::string> names;
  for (int take = 0; take < rehearsal::takes; ++take) names.push_back(to_text(static_cast<rehearsal::Take>(take)));
  return names;
}

constexpr const char* kFolder = "FOLDER";  // what the shells complete
constexpr const char* kFile = "FILE";

void add_json(CLI::App& command, bool& json) {
  command.add_flag("--json", json, "Print JSON for programs instead of words for people");
}

void add_job_options(CLI::App& command, JobOptions& options) {
  command.add_option("DIR", options.folder, "The job folder")->required()->type_name(kFolder);
  command.add_option("--recordings", options.recordings, "Folder of the captures, instead of DIR/recordings")
      ->type_name(kFolder);
  command
      .add_option("--results", options.results, "Folder for everything written; DIR itself is then left untouched")
      ->type_name(kFolder);
  add_json(command, options.json);
}

}  // namespace

CommandLine::CommandLine(Console& where) : app(kAbout, "evenbeam"), console(where) {
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
  declare_manual();
}

CLI::App& CommandLine::declare(const char* name, const char* what, std::vector<Example> uses,
                               std::function<int()> task) {
  CLI::App& command = *app.add_subcommand(name, what);
  command.footer(examples_text(uses));
  examples[&command] = std::move(uses);
  command.callback([this, task = std::move(task)] { code = task(); });
  return command;
}

void CommandLine::declare_new() {
  CLI::App& command = declare("new", "Begin a job: a folder with a machine.toml to fill in",
                              {{"evenbeam new press-7", "makes press-7/machine.toml to fill in"}},
                              [this] { return run_new(new_folder, new_json, console); });
  command.add_option("DIR", new_folder, "The folder to make")->required()->type_name(kFolder);
  add_json(command, new_json);
}

void CommandLine::declare_next() {
  CLI::App& command =
      declare("next", "Name the one thing to do now: move, level, capture, cautions",
              {{"evenbeam next press-7", "what to do now"},
               {"evenbeam next press-7 --after drive-b", "what to do again after drive B was changed"},
               {"evenbeam next press-7 --after drive-b --since 4", "what of that is still open"}},
              [this] { return repair.after ? run_next_after(next, repair, console) : run_next(next, console); });
  add_job_options(command, next);
  auto* after = command.add_option(
      "--after", repair.after,
      "After a repair: what to do again, and why. drive-a, motor-a, scale-a (or -b), belt, guide, crash");
  choices[after] = exporting::redo_names(exporting::redo_table());
  command
      .add_option("--since", repair.since,
                  "Number of the last evaluation before the repair: what of the list is still open")
      ->needs(after);
}

void CommandLine::declare_ready() {
  CLI::App& command = declare("ready", "The check sheet before the first push: what is good, what is open",
                              {{"evenbeam ready press-7 --sheet", "writes ready.toml to fill in"},
                               {"evenbeam ready press-7", "says what is good and what is open"}},
                              [this] { return run_ready(ready, ready_sheet, console); });
  add_job_options(command, ready);
  command.add_flag("--sheet", ready_sheet,
                   "Write ready.toml to fill in, or add the lines that it lacks; nothing written there is changed");
}

void CommandLine::declare_commission() {
  CLI::App& command =
      declare("commission", "Evaluate everything: verdicts, settings, report, journal",
              {{"evenbeam commission press-7", "evaluates all captures"},
               {"evenbeam commission press-7 --results /media/stick/press-7", "writes nothing into the job"},
               {"evenbeam commission press-7 --accept --by 'R. Vale'", "signs for the settings"}},
              [this] { return run_commission(commission, console); });
  add_job_options(command, commission.job);
  auto* station = command.add_option("--override", commission.override_station,
                                     "Go on in spite of this stop: STATION, or STATION.FINDING for one of "
                                     "several (each line of `ready` by itself); needs --reason and --by");
  choices[station] = station_names();
  auto* reason = command.add_option("--reason", commission.reason, "Why, in words; the record keeps and shows it");
  auto* by = command.add_option("--by", commission.by, "Who overrides or accepts");
  station->needs(reason)->needs(by);
  command.add_flag("--accept", commission.accept, "Accept the proposed settings; needs --by")->needs(by);
}

void CommandLine::declare_report() {
  CLI::App& command = declare("report", "Make the report anew; the journal is left as it is",
                              {{"evenbeam report press-7", "results/report.html anew, and the PDF"},
                               {"evenbeam report press-7 --paper letter", "the same for US letter paper"}},
                              [this] { return run_report(report, console); });
  add_job_options(command, report.job);
  auto* paper = command.add_option("--paper", report.paper, "Paper that the report prints on: a4 or letter")
                    ->check(CLI::IsMember({"a4", "letter"}))
                    ->capture_default_str();
  choices[paper] = {"a4", "letter"};
}

void CommandLine::declare_demo() {
  CLI::App& command = declare("demo", "Write an invented job to a folder and commission it",
                              {{"evenbeam demo", "a first look: evenbeam-demo/results/report.html"},
                               {"evenbeam demo day --first-day", "from bare rails to handover, step by step"}},
                              [this] {
                                return first_day ? run_first_day(demo_folder, demo_json, console)
                                                 : run_demo(demo_folder, demo_json, console);
                              });
  command.add_flag("--first-day", first_day,
                   "Play its first day instead, from bare rails to handover: three things are wrong on purpose");
  command.add_option("DIR", demo_folder, "The folder to write")->capture_default_str()->type_name(kFolder);
  add_json(command, demo_json);
}

void CommandLine::declare_export() {
  CLI::App& command = declare("export", "Settings in the terms of a controller, and as structured text (IEC 61131-3)",
                              {{"evenbeam export press-7", "every form into results/"},
                               {"evenbeam export press-7 --form percent", "prints one form"},
                               {"evenbeam export press-7 --form st --to loop.st", "the loop law as structured text"}},
                              [this] { return run_export(exported, console); });
  add_job_options(command, exported.job);
  auto* form =
      command.add_option("--form", exported.form,
                         "One form to print: " + joined_forms() + "; without it all are written to the results");
  choices[form] = workflow::export_forms();
  command.add_option("--settings", exported.settings, "A settings.toml to take instead of what the job proposes")
      ->type_name(kFile);
  command.add_option("--to", exported.to, "File to write the form to, instead of printing")
      ->needs(form)
      ->type_name(kFile);
}

void CommandLine::declare_serve() {
  CLI::App& command = declare("serve", "Open the job as a page in a browser on this machine",
                              {{"evenbeam serve press-7", "prints the address to open"},
                               {"evenbeam serve press-7 --port 8080", "the same port every time"}},
                              [this] { return run_serve(serve, serve_port, console); });
  add_job_options(command, serve);
  command.add_option("--port", serve_port, "Port on 127.0.0.1; 0 takes any free one")
      ->check(CLI::Range(0, 65535))
      ->capture_default_str();
}

void CommandLine::declare_rehearse() {
  CLI::App& command =
      declare("rehearse", "Which commands go to which side, and what a command to one side would do",
              {{"evenbeam rehearse press-7", "the table of commands"},
               {"evenbeam rehearse press-7 --operation search", "one command in every state, with reasons"},
               {"evenbeam rehearse press-7 --script first-switch-on.toml", "judges a session before it is run"}},
              [this] { return run_rehearse(rehearse, console); });
  add_job_options(command, rehearse.job);
  auto* script = command
                     .add_option("--script", rehearse.script,
                                 "A session to be judged (format evenbeam.session/1); exit code 2 where a wrong "
                                 "command would do more than guides or mountings take")
                     ->type_name(kFile);
  command.add_option("--operation", rehearse.operation, "One operation in every state, with reasons")
      ->excludes(script);
  command
      .add_option("--with", rehearse.with,
                  "What is broken on the virtual gantry (format evenbeam.defects/1); may be given again")
      ->type_name(kFile);
}

void CommandLine::declare_simulate() {
  CLI::App& command = declare("simulate", "Write recordings of the virtual gantry, as a job folder of their own",
                              {{"evenbeam simulate press-7", "every kind of run, as a job of its own"},
                               {"evenbeam simulate press-7 --run push --run search --seed 3", "two kinds only"},
                               {"evenbeam simulate press-7 --run move --with brake-drags.toml", "something broken"}},
                              [this] { return run_simulate(simulate, console); });
  command.add_option("DIR", simulate.folder, "The job folder")->required()->type_name(kFolder);
  command.add_option("--into", simulate.into, "The folder to make, instead of DIR/simulated-SEED")
      ->type_name(kFolder);
  auto* takes = command.add_option(
      "--run", simulate.takes,
      "standstill, push, multisine, jog, search, move, skew-step, fault, one-side or enabling; may be given "
      "again; all where none is given");
  choices[takes] = take_names();
  command
      .add_option("--with", simulate.with,
                  "What is broken on the virtual gantry (format evenbeam.defects/1); may be given again")
      ->type_name(kFile);
  command.add_option("--seed", simulate.seed, "Of everything drawn: places, racks, phases, noise")
      ->capture_default_str();
  auto* form = command.add_option("--form", simulate.form, "Of the files: comma, semicolon (decimal comma) or tab")
                   ->capture_default_str();
  choices[form] = {"comma", "semicolon", "tab"};
  add_json(command, simulate.json);
}

void CommandLine::declare_history() {
  CLI::App& command = declare("history", "List the evaluations, or compare two: what changed and why",
                              {{"evenbeam history press-7", "every evaluation, with its number"},
                               {"evenbeam history press-7 3 5", "what changed between two of them"},
                               {"evenbeam history press-7 --verify", "whether every file is still what it was"}},
                              [this] { return run_history(history, console); });
  add_job_options(command, history.job);
  auto* from = command.add_option("A", history.from, "Number of an evaluation");
  auto* to = command.add_option("B", history.to, "Number of a later one to compare it with");
  from->needs(to);
  command.add_flag("--verify", history.verify,
                   "Hash everything anew and say what differs (exit code 2 where it does)");
}

void CommandLine::declare_manual() {
  CLI::App& command = declare("manual", "Print the man page, or the completion for a shell",
                              {{"evenbeam manual man | man -l -", "all of this on one page"},
                               {"source <(evenbeam manual bash)", "completion in this shell"}},
                              [this] {
                                console.out << manual_in_form(manual(), manual_form);
                                return 0;
                              });
  auto* form = command.add_option("FORM", manual_form, "man, bash, zsh or fish")->required();
  choices[form] = manual_forms();
}

}  // namespace evenbeam::cli
