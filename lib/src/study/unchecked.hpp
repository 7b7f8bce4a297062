// What the public functions of the same names do once they have checked what they were given. Whoever calls
// these has checked it: a batch checks each scenario and each record once, not at every step on the way.
#pragma once

#include "wetspan/study/landing.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan::unchecked {

Landing land(const Scenario& scenario, const AirState& air, double volume, const Spectrum& spectrum,
             const Held& held = {});

Landing land(const Scenario& scenario, const AirState& air);

WetSpan wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                 const Following& following = {}, bool keep_history = false);

}  // namespace wetspan::unchecked
