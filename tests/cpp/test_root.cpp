#include "../../lib/src/root.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

using namespace wetspan;

namespace {

template <class Function>
Bracket<double> around(Function f, double from, double to, double tolerance, int& calls) {
  calls = 0;
  return narrowed({.from = from, .to = to, .at_from = f(from), .at_to = f(to)}, tolerance, [&](double x) {
    ++calls;
    return f(x);
  });
}

}  // namespace

TEST_CASE("roots: the bracket is narrowed to the tolerance and keeps its signs") {
  int calls = 0;
  const auto check_root = [&](auto f, double from, double to, double root, int most_calls) {
    CAPTURE(root);
    for (const double tolerance : {1e-3, 1e-8, 1e-13}) {
      const Bracket<double> found = around(f, from, to, tolerance, calls);
      CHECK(((f(found.from) > 0.0) == (f(from) > 0.0) || f(found.from) == 0.0));
      CHECK(((f(found.to) > 0.0) == (f(to) > 0.0) || f(found.to) == 0.0));
      const bool met = found.at_from == 0.0 || found.at_to == 0.0;
      CHECK((met || std::abs(found.to - found.from) <= tolerance));
      CHECK(std::min(std::abs(found.from - root), std::abs(found.to - root)) <= tolerance);
      CHECK(found.at_from == f(found.from));
      CHECK(found.at_to == f(found.to));
      CHECK(calls <= most_calls);
    }
  };
  check_root([](double x) { return x * x * x - 2.0 * x - 5.0; }, 2.0, 3.0, 2.0945514815423265, 12);
  check_root([](double x) { return std::cos(x) - x; }, 1.0, 0.0, 0.7390851332151607, 12);
  check_root([](double x) { return 1.0 - 1e3 * x; }, 0.0, 1.0, 1e-3, 12);
  check_root([](double x) { return std::pow(x - 0.7, 9.0); }, 0.0, 1.0, 0.7, 80);    // flat there
  check_root([](double x) { return x < 0.123 ? 1.0 : -1.0; }, 0.0, 1.0, 0.123, 60);  // a jump
}

TEST_CASE("roots: an end that is a root already is returned") {
  int calls = 0;
  const Bracket<double> found = around([](double x) { return 1.0 - x; }, 0.0, 1.0, 1e-9, calls);
  CHECK(found.to == 1.0);
  CHECK(found.at_to == 0.0);
  CHECK(calls == 0);
}

TEST_CASE("roots: a point at which the function is 0 is both ends, whichever sign they had") {
  int calls = 0;
  for (const double sign : {1.0, -1.0}) {
    const auto f = [&](double x) { return sign * (x - 0.5); };  // met by the first halving
    const Bracket<double> found = around(f, 0.0, 1.0, 1e-9, calls);
    CHECK(calls == 1);
    CHECK(found.from == 0.5);
    CHECK(found.to == 0.5);
    CHECK(found.at_from == 0.0);
    CHECK(found.at_to == 0.0);
    const Bracket<double> at_once = around(f, 0.5, 1.0, 1e-9, calls);
    CHECK(at_once.from == 0.5);
    CHECK(at_once.to == 0.5);
  }
}

TEST_CASE("roots: searches that ask for one value at a time find what a search of its own finds") {
  const auto f = [](double x, double root) { return std::tanh(x) - std::tanh(root); };
  std::vector<Narrowing<Plain>> searches;
  const std::vector<double> roots{-0.7, 0.1, 2.0};
  const auto bracket = [&](double root) { return Bracket<double>{-3.0, 4.0, f(-3.0, root), f(4.0, root)}; };
  for (const double root : roots) searches.emplace_back(bracket(root), 1e-10, true);
  for (bool any = true; any;) {
    any = false;
    for (std::size_t i = 0; i < roots.size(); ++i) {
      if (!searches[i].goes_on()) continue;
      const double place = searches[i].place();
      searches[i].take(place, f(place, roots[i]));
      any = true;
    }
  }
  for (std::size_t i = 0; i < roots.size(); ++i) {
    const Bracket<double> alone =
        narrowed(bracket(roots[i]), 1e-10, [&](double x) { return f(x, roots[i]); });
    CHECK(searches[i].bracket().to == alone.to);
    CHECK(std::abs(alone.to - roots[i]) <= 1e-10);
  }
}

TEST_CASE("roots: each lane has its own, those that do not search stand still") {
  using L = Lanes<2>;
  const L::R targets{0.1, 0.9};
  const auto f = [&](const L::R& x) { return x * x - targets * targets; };
  const Bracket<L::R> whole{L::all(0.0), L::all(1.0), f(L::all(0.0)), f(L::all(1.0))};
  const L::Mask searches = targets > L::all(0.2);
  const Bracket<L::R> found = narrowed<L>(whole, L::all(1e-12), searches, f);
  CHECK(std::abs(L::get(found.from, 1) - 0.9) <= 1e-12);
  CHECK(L::get(found.to, 1) >= 0.9);
  CHECK(L::get(found.from, 0) == 0.0);
  CHECK(L::get(found.to, 0) == 1.0);
}
