// Suggests the valid name nearest to an unknown name.
#pragma once

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "wetspan/errors.hpp"

namespace wetspan {

/// Levenshtein distance: the number of single-character changes from one word to the other.
inline std::size_t distance(std::string_view from, std::string_view to) {
  std::vector<std::size_t> row(to.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 0; i < from.size(); ++i) {
    std::size_t diagonal = row[0]++;
    for (std::size_t j = 0; j < to.size(); ++j) {
      const std::size_t substituted = diagonal + (from[i] != to[j]);
      diagonal = row[j + 1];
      row[j + 1] = std::min({row[j + 1] + 1, row[j] + 1, substituted});
    }
  }
  return row.back();
}

/// The index of the name nearest to `word` among the names that `name_of` returns for 0 .. count - 1.
template <class NameOf>
std::size_t nearest(std::string_view word, std::size_t count, NameOf name_of) {
  std::size_t at = 0, least = std::string_view::npos;
  for (std::size_t i = 0; i < count; ++i) {
    const std::size_t far = distance(word, name_of(i));
    if (far < least) at = i, least = far;
  }
  return at;
}

/// The row with the given name. Throws InputError that lists the known names.
template <class Row>
const Row& row_named(std::string_view name, std::span<const Row> rows, std::string_view what) {
  const auto found = std::find_if(rows.begin(), rows.end(), [&](const Row& row) { return row.name == name; });
  if (found != rows.end()) return *found;
  std::string message = "no " + std::string(what) + " '" + std::string(name) + "'; known:";
  for (const Row& row : rows) message += " '" + std::string(row.name) + "'";
  throw InputError(message);
}

}  // namespace wetspan
