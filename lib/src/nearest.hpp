// The name that an unknown one was most likely meant to be.
#pragma once

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <string_view>
#include <vector>

namespace wetspan {

/// Levenshtein distance: single-character changes from one word to the other.
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

/// The position of the name nearest to `word` among those that `name_of` gives for 0 .. count - 1.
template <class NameOf>
std::size_t nearest(std::string_view word, std::size_t count, NameOf name_of) {
  std::size_t at = 0, least = std::string_view::npos;
  for (std::size_t i = 0; i < count; ++i) {
    const std::size_t far = distance(word, name_of(i));
    if (far < least) at = i, least = far;
  }
  return at;
}

}  // namespace wetspan
