#include "measure/store/dossier_file.h"
#include "measure/store/verify.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"

namespace cli {

Outcome run(const VerifyCommand& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  const auto findings = [&] {
    Progress progress;
    return measure::verify(command.folder, *dossier,
                           [&](double share) { progress.show(share, "verifying"); });
  }();
  std::size_t faults = 0;
  for (const measure::Finding& finding : findings) {
    const bool is_fault = finding.severity == measure::Severity::kFault;
    faults += is_fault ? 1 : 0;
    say((is_fault ? "fault: " : "notice: ") + finding.sentence);
  }
  if (faults > 0) {
    return refused("The dossier " + command.folder + " has " + count_of(faults, "fault") +
                   ": see the list.");
  }
  say("All references and hashes of " + command.folder + " are in order.");
  return calib::Done{};
}

}  // namespace cli
