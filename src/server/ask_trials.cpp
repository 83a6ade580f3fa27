// What the page tries on the virtual gantry: settings, a fault, a session of commands. Nothing of it is kept.
#include "server/parts.h"
#include "server/trial_data.h"

namespace evenbeam::server {

void Server::Parts::serve_trials() {
  http.Post("/ask/forecast", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      const base::Json json = body_of(asked);
      const workflow::Trial trial{.move = text_in(json, "move"),
                                  .mean_gain = number_in(json, "mean_gain").value_or(1),
                                  .skew_gain = number_in(json, "skew_gain").value_or(1),
                                  .share = number_in(json, "share"),
                                  .carriage_y_m = number_in(json, "carriage_y_m"),
                                  .payload_kg = number_in(json, "payload_kg")};
      say(response, forecast_json(workflow::try_settings(*evaluation(), trial)));
    });
  });
  http.Post("/ask/fault", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      const base::Json json = body_of(asked);
      const workflow::FaultTrial trial{.move = text_in(json, "move"),
                                       .fault = text_in(json, "fault"),
                                       .reaction = text_in(json, "reaction"),
                                       .side_is_b = text_in(json, "side") == "B",
                                       .at_part = number_in(json, "at_part").value_or(0.5),
                                       .latency_s = number_in(json, "latency_s"),
                                       .carriage_y_m = number_in(json, "carriage_y_m"),
                                       .payload_kg = number_in(json, "payload_kg")};
      say(response, fault_json(workflow::try_fault(*evaluation(), trial)));
    });
  });
  http.Post("/ask/session", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      const base::Json json = body_of(asked);
      std::vector<workflow::GivenCommand> given;
      if (const auto list = json.find("commands"); list != json.end() && list->is_array() && list->size() <= 200)
        for (const base::Json& one : *list) given.push_back({text_in(one, "operation"), text_in(one, "sides")});
      const auto current = evaluation();
      say(response, session_json(workflow::try_operations(*current, given), current->machine));
    });
  });
}

}  // namespace evenbeam::server
