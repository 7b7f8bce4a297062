// Table of contents, in the order in which a droplet lives it.
#pragma once

#include "wetspan/errors.hpp"
#include "wetspan/parameters.hpp"

#include "wetspan/properties/air.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"

#include "wetspan/spray/droplets.hpp"
#include "wetspan/spray/flight.hpp"
#include "wetspan/spray/jug.hpp"
#include "wetspan/spray/nozzle.hpp"
#include "wetspan/spray/tank.hpp"

#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/collection.hpp"
#include "wetspan/plant/coverage.hpp"
#include "wetspan/plant/crop_air.hpp"
#include "wetspan/plant/drying.hpp"
#include "wetspan/plant/impact.hpp"
#include "wetspan/plant/leaf.hpp"
#include "wetspan/plant/response.hpp"
#include "wetspan/plant/retention.hpp"
#include "wetspan/plant/uptake.hpp"

#include "wetspan/study/batch.hpp"
#include "wetspan/study/bench.hpp"
#include "wetspan/study/clock.hpp"
#include "wetspan/study/house.hpp"
#include "wetspan/study/landing.hpp"
#include "wetspan/study/outcomes.hpp"
#include "wetspan/study/scenario.hpp"
#include "wetspan/study/simulate.hpp"
#include "wetspan/study/wet_span.hpp"
