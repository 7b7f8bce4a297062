// Published values shared by the C++ and the Python tests: tests/reference/*.csv.
//
// Columns: quantity, inputs ("T=298.15; P=101325", SI), value, unit, tolerance (absolute, in `unit`), source,
// mark where mark is `seen` (read in the source or in a file quoting it), `computed` (evaluated from the
// named formula: checks an implementation, not nature) or `memory` (recalled, provisional).
#pragma once

#include <cstdlib>
#include <fstream>
#include <limits>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace reference {

struct Row {
  std::string table, quantity, given, unit, source, mark;
  std::map<std::string, double> inputs;
  double value = 0, tolerance = 0;

  /// The named input; throws if the row does not give it.
  double operator[](const std::string& name) const {
    const auto found = inputs.find(name);
    if (found == inputs.end()) throw std::out_of_range(quantity + ": no input '" + name + "'");
    return found->second;
  }
};

/// The fields of one CSV line; quoted fields may hold commas and doubled quotes.
inline std::vector<std::string> fields(const std::string& line) {
  std::vector<std::string> result(1);
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (c == '"' && quoted && i + 1 < line.size() && line[i + 1] == '"') result.back() += line[++i];
    else if (c == '"') quoted = !quoted;
    else if (c == ',' && !quoted) result.emplace_back();
    else if (c != '\r') result.back() += c;
  }
  return result;
}

inline std::map<std::string, double> parse_inputs(const std::string& text) {
  std::map<std::string, double> result;
  for (std::size_t begin = 0; begin < text.size();) {
    std::size_t end = text.find(';', begin);
    if (end == std::string::npos) end = text.size();
    const std::string pair = text.substr(begin, end - begin);
    const std::size_t equals = pair.find('=');
    const std::size_t first = pair.find_first_not_of(' ');
    if (equals != std::string::npos)
      result[pair.substr(first, equals - first)] = std::stod(pair.substr(equals + 1));
    begin = end + 1;
  }
  return result;
}

/// Where the environment names a file in WETSPAN_COMPARISONS, every comparison is written there, for
/// docs/validation.md; in one piece, since tests may run side by side. Without `numbers`: the row was read.
inline void note(const Row& row, const std::string& numbers = "\t\t\t") {
  if (const char* path = std::getenv("WETSPAN_COMPARISONS")) {
    std::ofstream(path, std::ios::app)
        << row.table + '\t' + row.quantity + '\t' + row.given + '\t' + row.source + '\t' + numbers + '\n'
        << std::flush;
  }
}

/// Every row of tests/reference/<file>.csv whose quantity is `quantity`. Throws if there is none,
/// so that a test over rows cannot pass by finding nothing.
inline std::vector<Row> rows(const std::string& file, const std::string& quantity) {
  const std::string path = std::string(WETSPAN_REFERENCE_DIR) + "/" + file + ".csv";
  std::ifstream stream(path);
  if (!stream) throw std::runtime_error("cannot read " + path);
  std::vector<Row> result;
  std::string line;
  std::getline(stream, line);  // header
  while (std::getline(stream, line)) {
    if (line.empty()) continue;
    const auto cell = fields(line);
    if (cell.size() != 7) throw std::runtime_error(path + ": expected 7 columns in '" + line + "'");
    if (cell[0] != quantity) continue;
    result.push_back({file, cell[0], cell[1], cell[3], cell[5], cell[6], parse_inputs(cell[1]),
                      std::stod(cell[2]), std::stod(cell[4])});
    note(result.back());
  }
  if (result.empty()) throw std::runtime_error(path + ": no rows for '" + quantity + "'");
  return result;
}

/// Ours beside what is allowed; true where it lies within, and written out where a check of it fails.
struct Comparison {
  double ours, low, high;

  explicit operator bool() const { return low <= ours && ours <= high; }
  friend std::ostream& operator<<(std::ostream& out, const Comparison& one) {
    return out << one.ours << " within " << one.low << " .. " << one.high;
  }
};

/// Whether `ours`, in the row's unit, lies within `low` .. `high`. `by` says which of several models made it,
/// where the row is held against more than one.
[[nodiscard]] inline Comparison holds(const Row& row, double ours, double low, double high,
                                      const std::string& by = "") {
  std::ostringstream numbers;
  numbers.precision(std::numeric_limits<double>::max_digits10);
  numbers << by << '\t' << ours << '\t' << low << '\t' << high;
  note(row, numbers.str());
  return {ours, low, high};
}

/// Whether `ours` is within `tolerance` of the published value.
[[nodiscard]] inline Comparison within(const Row& row, double ours, double tolerance,
                                       const std::string& by = "") {
  return holds(row, ours, row.value - tolerance, row.value + tolerance, by);
}

/// Whether `ours` is within the row's own tolerance of the published value.
[[nodiscard]] inline Comparison holds(const Row& row, double ours, const std::string& by = "") {
  return within(row, ours, row.tolerance, by);
}

/// Whether `ours` is at least, or at most, the published value.
[[nodiscard]] inline Comparison at_least(const Row& row, double ours, const std::string& by = "") {
  return holds(row, ours, row.value, std::numeric_limits<double>::infinity(), by);
}
[[nodiscard]] inline Comparison at_most(const Row& row, double ours, const std::string& by = "") {
  return holds(row, ours, -std::numeric_limits<double>::infinity(), row.value, by);
}

}  // namespace reference
