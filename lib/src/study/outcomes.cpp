#include "wetspan/study/outcomes.hpp"

#include <string>

#include "../nearest.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

// clang-format off
constexpr OutcomeVariable table[] = {
    {"wet_time", "s", "min", "time from spray to dry leaves", [](const Outcome& o) { return o.wet.wet_time; }},
    {"last_drop_time", "s", "min", "time from spray to the last drop on a leaf", [](const Outcome& o) { return o.wet.last_drop_time; }},
    {"stem_wet_time", "s", "min", "time from spray to dry stems", [](const Outcome& o) { return o.wet.stem_wet_time; }},
    {"top_wet_time", "s", "min", "time from spray to a dry top leaf layer", [](const Outcome& o) { return o.wet.layer_wet_time.front(); }},
    {"bottom_wet_time", "s", "min", "time from spray to a dry bottom leaf layer", [](const Outcome& o) { return o.wet.layer_wet_time.back(); }},
    {"rewet_time", "s", "min", "time from re-wetting to dry leaves; 0 without", [](const Outcome& o) { return o.rewet.wet_time; }},
    {"wet_duration", "s", "min", "time during which leaves were wet, dew and re-wetting included", [](const Outcome& o) { return o.wet.wet_duration + o.rewet.wet_duration; }},
    {"wet_warmth", "K*s", "K*hour", "leaf temperature above 0 degC summed over the time the leaves were wet", [](const Outcome& o) { return o.wet.degree_seconds + o.rewet.degree_seconds; }},
    {"wet_share", "1", "percent", "share of the upper leaf side under fresh deposit", [](const Outcome& o) { return o.wet.wet_share; }},
    {"leaf_temperature", "K", "degC", "mean leaf temperature of the top layer while the spray was followed", [](const Outcome& o) { return o.wet.mean_leaf_temperature; }},
    {"split.leaf", "1", "percent", "share of the sprayed volume retained by leaves", [](const Outcome& o) { return o.landing.split.leaf; }},
    {"split.stem", "1", "percent", "share of the sprayed volume retained by stems", [](const Outcome& o) { return o.landing.split.stem; }},
    {"split.substrate", "1", "percent", "share of the sprayed volume reaching the substrate", [](const Outcome& o) { return o.landing.split.substrate; }},
    {"split.bench", "1", "percent", "share of the sprayed volume lost on bench and floor", [](const Outcome& o) { return o.landing.split.bench; }},
    {"split.airborne", "1", "percent", "share of the sprayed volume still airborne", [](const Outcome& o) { return o.landing.split.airborne; }},
    {"split.evaporated", "1", "percent", "share of the sprayed volume evaporated in flight", [](const Outcome& o) { return o.landing.split.evaporated; }},
    {"shattered", "1", "percent", "volume that shattered on leaves, counted each time, over the sprayed volume", [](const Outcome& o) { return o.landing.shattered; }},
    {"rebounded", "1", "percent", "volume that bounced off leaves, counted each time, over the sprayed volume", [](const Outcome& o) { return o.landing.rebounded; }},
    {"uptake.leaf", "kg", "ug", "active ingredient taken up by leaves, per plant", [](const Outcome& o) { return o.growth.uptake.leaf; }},
    {"uptake.stem", "kg", "ug", "active ingredient taken up by stems, per plant", [](const Outcome& o) { return o.growth.uptake.stem; }},
    {"uptake.root", "kg", "ug", "active ingredient taken up by roots, per plant", [](const Outcome& o) { return o.growth.uptake.root; }},
    {"tips.leaf", "kg", "ug", "active ingredient that reached the growing tips through leaves, per plant", [](const Outcome& o) { return o.growth.tips.leaf; }},
    {"tips.stem", "kg", "ug", "active ingredient that reached the growing tips through stems, per plant", [](const Outcome& o) { return o.growth.tips.stem; }},
    {"tips.root", "kg", "ug", "active ingredient that reached the growing tips through roots, per plant", [](const Outcome& o) { return o.growth.tips.root; }},
    {"applied", "kg", "ug", "active ingredient applied, per plant", [](const Outcome& o) { return o.applied; }},
    {"growth_control", "1", "percent", "share shorter than the untreated check when height is judged", [](const Outcome& o) { return o.growth.control; }},
    {"final_height", "m", "cm", "height when height is judged", [](const Outcome& o) { return o.growth.treated; }},
    {"growth_to_come", "m", "cm", "length the untreated check still grows after the first application", [](const Outcome& o) { return o.growth.applications.front().to_come; }},
    {"largest_inhibition", "1", "percent", "largest share of the rate of elongation held back", [](const Outcome& o) { return o.growth.largest_inhibition; }},
    {"inhibition_half_gone", "s", "day", "time from the start of growth until inhibition has fallen to half of its largest", [](const Outcome& o) { return o.growth.half_gone; }},
};

constexpr CourseVariable<History> history_table[] = {
    {"leaf_temperature", "K", "leaf temperature", &History::leaf_temperature},
    {"air_temperature", "K", "air temperature at the crop, with what the spray took from it", &History::air_temperature},
    {"relative_humidity", "1", "relative humidity at the crop, with what the spray added to it", &History::relative_humidity},
    {"leaf_water", "1", "share of the landed liquid left on leaves", &History::leaf_water},
    {"stem_water", "1", "share of the landed liquid left on stems", &History::stem_water},
    {"wet_share", "1", "wet share of the upper leaf side", &History::wet_share},
    {"leaf_uptake", "1", "share of the leaf's active ingredient taken up", &History::leaf_uptake},
    {"stem_uptake", "1", "share of the stem's active ingredient taken up", &History::stem_uptake},
};
constexpr CourseVariable<HeightCourse> height_table[] = {
    {"untreated", "m", "height of the untreated check", &HeightCourse::untreated},
    {"treated", "m", "height of the treated plant", &HeightCourse::treated},
    {"inhibition", "1", "share of the rate of elongation held back", &HeightCourse::inhibition},
    {"tips", "kg", "active ingredient at the growing tips per plant", &HeightCourse::tips},
};
constexpr Part<Account> account_table[] = {
    {"leaf surface", &Account::leaf_surface}, {"leaf", &Account::leaf},
    {"stem surface", &Account::stem_surface}, {"stem", &Account::stem},
    {"weathered", &Account::weathered},       {"substrate", &Account::substrate},
    {"root", &Account::root},                 {"lost from substrate", &Account::lost},
    {"bench", &Account::bench},               {"airborne", &Account::airborne},
};
constexpr Part<InPlant> plant_table[] = {
    {"blades", &InPlant::blades},         {"depot", &InPlant::depot},         {"tips", &InPlant::tips},
    {"grown away", &InPlant::grown_away}, {"elsewhere", &InPlant::elsewhere}, {"metabolised", &InPlant::metabolised},
};
// clang-format on

}  // namespace

std::span<const CourseVariable<History>> history_variables() { return history_table; }
std::span<const CourseVariable<HeightCourse>> height_variables() { return height_table; }
std::span<const Part<Account>> account_parts() { return account_table; }
std::span<const Part<InPlant>> plant_parts() { return plant_table; }

std::span<const OutcomeVariable> outcome_variables() { return table; }

std::size_t outcome_index(std::string_view name) {
  const auto rows = outcome_variables();
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (rows[i].name == name) return i;
  }
  const std::size_t near = nearest(name, rows.size(), [&](std::size_t i) { return rows[i].name; });
  throw InputError("there is no outcome '" + std::string(name) + "'; the nearest is '" +
                   std::string(rows[near].name) + "'");
}

}  // namespace wetspan
