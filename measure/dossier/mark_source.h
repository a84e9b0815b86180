#pragma once

namespace measure {

/// Where a mark comes from; each source has a variance factor of its own in the adjustment.
enum class MarkSource { kByHand, kRefined, kImported };

}  // namespace measure
