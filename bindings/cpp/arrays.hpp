// NumPy arrays as spans of the library, and back.
#pragma once

#include <pybind11/numpy.h>

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

/// A contiguous array; another layout or type is copied.
using Column = pybind11::array_t<double, pybind11::array::c_style | pybind11::array::forcecast>;
using Positions = pybind11::array_t<std::uint64_t, pybind11::array::c_style | pybind11::array::forcecast>;

template <class Array>
auto view(const Array& values) {
  return std::span(values.data(), static_cast<std::size_t>(values.size()));
}

/// An optional array; an empty span without it.
template <class Array>
auto view_of(const std::optional<Array>& values) {
  return values ? view(*values) : decltype(view(*values)){};
}

inline pybind11::array_t<double> array(const std::vector<double>& values) {
  return pybind11::array_t<double>(static_cast<pybind11::ssize_t>(values.size()), values.data());
}
