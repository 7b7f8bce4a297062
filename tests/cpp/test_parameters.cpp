#include <doctest/doctest.h>

#include <cctype>
#include <set>
#include <string>

#include "wetspan/parameters.hpp"
#include "wetspan/study/scenario.hpp"

using namespace wetspan;

TEST_CASE("every row of the table is whole") {
  std::set<std::string> keys;
  for (const Parameter& row : parameters()) {
    const std::string key = key_of(row);
    CAPTURE(key);
    CHECK(keys.insert(key).second);
    CHECK(row.low < row.high);
    CHECK(row.standard >= row.low);
    CHECK(row.standard <= row.high);
    CHECK(row.spread >= 1.0);
    for (const std::string_view text : {row.unit, row.shown, row.source, row.meaning}) CHECK(!text.empty());
    if (row.kind == Kind::choice) {
      CHECK(row.low == 0.0);
      CHECK(row.high == static_cast<double>(row.choices.size()) - 1.0);
    } else {
      CHECK(row.choices.empty());
    }
  }
  CHECK(keys.size() == parameters().size());
}

TEST_CASE("every section of the table has rows, and every row a section, in the same order") {
  std::size_t next = 0;
  for (const Section& section : sections()) {
    CAPTURE(section.name);
    CHECK(!section.about.empty());
    REQUIRE(next < parameters().size());
    CHECK(parameters()[next].section == section.name);
    while (next < parameters().size() && parameters()[next].section == section.name) ++next;
  }
  CHECK(next == parameters().size());
}

TEST_CASE("what is calibrated says so, and nothing claims validation") {
  int calibrated = 0;
  for (const Parameter& row : parameters()) {
    CAPTURE(key_of(row));
    std::string words = std::string(row.source) + " " + std::string(row.meaning);
    for (char& letter : words) letter = static_cast<char>(std::tolower(static_cast<unsigned char>(letter)));
    CHECK(words.find("validated") == std::string::npos);
    CHECK((row.grade == Grade::C) == (words.find("calibrated") != std::string::npos));
    calibrated += row.grade == Grade::C;
  }
  CHECK(calibrated > 0);
}
