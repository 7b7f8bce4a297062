// Versions of public functions that do not check their arguments. The caller must have checked them: a batch
// checks each scenario and each record once, not in every function that it calls.
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
