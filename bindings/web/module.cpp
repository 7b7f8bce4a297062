// The library for JavaScript, as src/wetspan.js uses it. Numbers in SI and in the order of the tables; names,
// units and errors for people are the business of the JavaScript around it.
#include <emscripten/bind.h>
#include <emscripten/val.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <exception>
#include <iterator>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "wetspan/wetspan.hpp"

namespace {

using emscripten::val;
using namespace wetspan;

val text(std::string_view words) { return val(std::string(words)); }

template <class Row, class Told>
val list(const Row& rows, Told told) {
  val result = val::array();
  for (const auto& row : rows) result.call<void>("push", told(row));
  return result;
}

val numbers(const std::vector<double>& values) {
  return val(emscripten::typed_memory_view(values.size(), values.data())).call<val>("slice");
}

std::vector<double> numbers(const val& values) {
  return emscripten::convertJSArrayToNumberVector<double>(values);
}

/// What `work` returns; of an exception an object of its type and message, which JavaScript throws again.
template <class Work>
val answer(Work work) {
  val error = val::object();
  try {
    return work();
  } catch (const InputError& refused) {
    error.set("error", "InputError");
    error.set("message", text(refused.what()));
  } catch (const IntegrationError& failed) {
    error.set("error", "IntegrationError");
    error.set("message", text(failed.what()));
  } catch (const std::exception& other) {
    error.set("error", "Error");
    error.set("message", text(other.what()));
  }
  return error;
}

val table() {
  return list(parameters(), [](const Parameter& row) {
    constexpr const char* kinds[] = {"number", "count", "toggle", "choice"};
    val told = val::object();
    told.set("key", text(key_of(row)));
    told.set("section", text(row.section));
    told.set("name", text(row.name));
    told.set("kind", text(kinds[static_cast<int>(row.kind)]));
    told.set("standard", row.standard);
    told.set("low", row.low);
    told.set("high", row.high);
    told.set("spread", row.spread);
    told.set("unit", text(row.unit));
    told.set("shown", text(row.shown));
    told.set("grade", text(std::string(1, letter_of(row.grade))));
    told.set("measured_on", text(measured_on(row.grade)));
    told.set("source", text(row.source));
    told.set("meaning", text(row.meaning));
    told.set("choices", list(row.choices, text));
    return told;
  });
}

val section_table() {
  return list(sections(), [](const Section& row) {
    val told = val::object();
    told.set("name", text(row.name));
    told.set("about", text(row.about));
    return told;
  });
}

val outcome_table() {
  return list(outcome_variables(), [](const OutcomeVariable& row) {
    val told = val::object();
    told.set("name", text(row.name));
    told.set("unit", text(row.unit));
    told.set("shown", text(row.shown));
    told.set("meaning", text(row.meaning));
    return told;
  });
}

/// A scenario of one value for each input.
Scenario scenario_of(const val& given) {
  const std::vector<double> values = numbers(given);
  if (values.size() != parameters().size()) throw InputError("a scenario has a value for every input");
  Scenario scenario;
  for (std::size_t i = 0; i < values.size(); ++i) set(scenario, i, values[i]);
  check(scenario);
  return scenario;
}

/// The air at the crop: unchanging without a record; through the house from one of outdoor weather; as a
/// logger at the crop measured it, with the cover's temperature and the house's air changes from the
/// scenario.
CropAir air_of(const Scenario& scenario, const val& record) {
  if (record.isNull() || record.isUndefined()) {
    return steady_air(scenario.air, scenario.house, scenario.numerics.longest);
  }
  const auto column = [&](const char* name) { return numbers(record[name]); };
  const auto time = column("time"), temperature = column("temperature"),
             humidity = column("relative_humidity"), pressure = column("pressure"),
             wind = column("wind_speed"), light = column("shortwave");
  for (const auto* values : {&temperature, &humidity, &pressure, &wind, &light}) {
    if (values->size() != time.size()) throw InputError("the columns of a record are as long as its time");
  }
  const bool outdoor = record["exposure"].as<std::string>() == "outdoor";
  Outdoor given{time, {}};
  for (std::size_t i = 0; i < time.size(); ++i) {
    given.state.push_back(
        {temperature[i], air::vapour_pressure(humidity[i], temperature[i]), pressure[i], wind[i], light[i]});
  }
  return outdoor ? air_at_crop(scenario, given) : air_from_logger(scenario, given);
}

constexpr double day_length = 86400.0;  // [s]

/// Mean temperatures of the days of growth that a record covers, from that of the spray on, as in Python;
/// none without a record.
std::vector<double> weeks_of(const Scenario& scenario, const CropAir& air, const val& record, double start) {
  if (record.isNull() || record.isUndefined()) return {};
  return daily_temperatures(air, std::floor(start / day_length) * day_length, scenario.uptake.horizon);
}

val check_scenario(const val& values) {
  return answer([&] {
    scenario_of(values);
    return val::null();
  });
}

val position(const std::string& key) {
  return answer([&] { return val(static_cast<double>(parameter_index(key))); });
}

/// One spray: its numbers, in the order of the outcomes' table, how it ended, and its course if asked for.
val simulate_one(const val& values, const val& record, double start, bool history_too) {
  return answer([&] {
    const Scenario scenario = scenario_of(values);
    const CropAir air = air_of(scenario, record);
    const Outcome outcome =
        simulate(scenario, air, start, history_too, weeks_of(scenario, air, record, start));
    std::vector<double> told;
    for (const OutcomeVariable& row : outcome_variables()) told.push_back(row.value(outcome));
    val result = val::object();
    result.set("values", numbers(told));
    result.set("status", text(name_of(outcome.wet.status)));
    result.set("path", text(name_of(outcome.wet.path)));
    if (history_too) {
      const History& course = outcome.wet.history;
      val columns = val::object();
      columns.set("time", numbers(course.time));
      columns.set("leaf_temperature", numbers(course.leaf_temperature));
      columns.set("air_temperature", numbers(course.air_temperature));
      columns.set("relative_humidity", numbers(course.relative_humidity));
      columns.set("leaf_water", numbers(course.leaf_water));
      columns.set("stem_water", numbers(course.stem_water));
      columns.set("wet_share", numbers(course.wet_share));
      result.set("history", columns);
    }
    return result;
  });
}

/// The same spray at many moments of a record: a column for each outcome, one after the other; the reasons of
/// what could not be computed by their places, whose numbers are NaN.
val simulate_many(const val& values, const val& record, const val& given_starts) {
  return answer([&] {
    const Scenario scenario = scenario_of(values);
    const CropAir air = air_of(scenario, record);
    const std::vector<double> starts = numbers(given_starts);
    std::map<double, std::vector<double>> weeks;  // by the day of the spray
    for (const double start : starts) {
      const double day = std::floor(start / day_length);
      if (!weeks.contains(day)) weeks[day] = weeks_of(scenario, air, record, start);
    }
    Weeks means;
    for (const auto& [day, each] : weeks) means.means.emplace_back(each);
    std::vector<std::uint64_t> of;
    for (const double start : starts) {
      const auto place = weeks.find(std::floor(start / day_length));
      of.push_back(static_cast<std::uint64_t>(std::distance(weeks.begin(), place)));
    }
    means.of = of;
    const Rows rows{.count = starts.size(),
                    .scenarios = {&scenario},
                    .scenario_of = {},
                    .inputs = {},
                    .airs = {&air},
                    .air_of = {},
                    .starts = starts,
                    .weeks = means};
    std::vector<double> columns(starts.size() * outcome_variables().size());
    std::vector<std::uint8_t> status(starts.size()), path(starts.size());
    const auto failed = simulate_rows(
        rows, {.values = columns, .status = status, .path = path, .refusal = {}}, {.threads = 1});
    val result = val::object(), reasons = val::object();
    for (const FailedRow& one : failed) reasons.set(std::to_string(one.row), text(one.reason));
    result.set("values", numbers(columns));
    result.set("status", list(status, [](std::uint8_t code) { return text(name_of(Status{code})); }));
    result.set("reasons", reasons);
    return result;
  });
}

/// The air at the crop at moments [s] of a record, for pictures: temperature [K], relative humidity,
/// shortwave.
val air_at(const val& values, const val& record, const val& given_moments) {
  return answer([&] {
    const CropAir air = air_of(scenario_of(values), record);
    std::vector<double> temperature, humidity, light;
    for (const double moment : numbers(given_moments)) {
      const AirState now = air.at(moment);
      temperature.push_back(now.temperature);
      humidity.push_back(wetspan::air::relative_humidity(now.vapour_pressure, now.temperature));
      light.push_back(now.shortwave);
    }
    val result = val::object();
    result.set("temperature", numbers(temperature));
    result.set("relative_humidity", numbers(humidity));
    result.set("shortwave", numbers(light));
    return result;
  });
}

/// Relative humidity [1] at `temperature` [K] of air that has `humidity` [1] at `from` [K] and keeps its
/// vapour.
double humidity_kept(double humidity, double from, double temperature) {
  return air::relative_humidity(air::vapour_pressure(humidity, from), temperature);
}

/// The scenario with the least and with the largest plausible mobile share of the dried residue.
val both_ends(const val& values) {
  return answer([&] {
    const ResidueEnds ends = residue_ends(scenario_of(values));
    return list(std::array{ends.locked, ends.mobile}, [](const Scenario& end) {
      std::vector<double> told;
      for (std::size_t i = 0; i < parameters().size(); ++i) told.push_back(get(end, i));
      return numbers(told);
    });
  });
}

}  // namespace

EMSCRIPTEN_BINDINGS(wetspan) {
  emscripten::function("version", +[] { return std::string(WETSPAN_VERSION); });
  emscripten::function("table", &table);
  emscripten::function("sections", &section_table);
  emscripten::function("outcomes", &outcome_table);
  emscripten::function("check", &check_scenario);
  emscripten::function("position", &position);
  emscripten::function("simulate", &simulate_one);
  emscripten::function("simulateMany", &simulate_many);
  emscripten::function("airAt", &air_at);
  emscripten::function("humidityKept", &humidity_kept);
  emscripten::function("residueEnds", &both_ends);
}
