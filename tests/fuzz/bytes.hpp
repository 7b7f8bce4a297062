// What the fuzzers make of bytes, and what they ask of the library.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>

#include "wetspan/parameters.hpp"

/// Bytes as values, one after another; zeros where they end.
class Bytes {
 public:
  Bytes(const std::uint8_t* data, std::size_t size) : data_(data), left_(size) {}
  bool empty() const { return left_ == 0; }
  template <class T>
  T take() {
    T value{};
    const std::size_t count = left_ < sizeof(T) ? left_ : sizeof(T);
    std::memcpy(&value, data_, count);
    data_ += count, left_ -= count;
    return value;
  }

  bool either() { return take<std::uint8_t>() % 2 == 1; }

  /// A value from `low` to `high`; one time in eight any double, nan and infinity too.
  double number(double low, double high) {
    const auto how = take<std::uint8_t>();
    if (how % 8 == 0) return take<double>();
    if (how % 8 == 1) return low;
    if (how % 8 == 2) return high;
    const double share = take<std::uint16_t>() / 65535.0;
    if (low > 0.0 && how % 2 == 0) return low * std::pow(high / low, share);
    return low + share * (high - low);
  }

 private:
  const std::uint8_t* data_;
  std::size_t left_;
};

inline void require(bool holds, const char* what) {
  if (holds) return;
  std::fprintf(stderr, "%s\n", what);
  std::abort();
}

inline void one_line(const std::string& text) {
  require(!text.empty() && text.find('\n') == std::string::npos && text.size() < 1500,
          "an error is no single line");
}
