#pragma once
// What station loops works out beyond settings and forecasts: the certificate, gains in steps, the fight of
// integrators, and for one move structures, learning and the price of each setting.
#include <optional>

#include "tuning/loops_report.h"

namespace evenbeam::tuning {

CertificateCase certificate_case(const identification::Identified& identified, const machine::Machine& machine,
                                 const Proposal& proposal, double limit);
// A proof in some seconds; a quarter of the doubt is what mostly passes within as many boxes.
Proofs prove(const CertificateCase& promised);
// `move`: the first known; its options.
void study(LoopsReport& report, const machine::Machine& machine, const identification::Identified& identified,
           const std::optional<ForecastMove>& move, const ForecastOptions& options);

// Fight, structures, explanation and learning in sentences.
std::vector<base::Finding> study_findings(const LoopsReport& report);

}  // namespace evenbeam::tuning
