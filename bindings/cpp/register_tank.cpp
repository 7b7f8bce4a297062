// The spray tank: strengths, mixes and what was applied.

#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <optional>

#include "wetspan/spray/tank.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

void register_concentrate(py::module_& m) {
  py::class_<Concentrate>(m, "Concentrate", "A product as its label states its strength.")
      .def(py::init([](std::optional<double> concentration, std::optional<double> mass_share) {
             return Concentrate{concentration, mass_share};
           }),
           py::arg("concentration"), py::arg("mass_share"))
      .def_static("by_volume", &liquid_by_volume, py::arg("strength"), py::arg("density") = py::none(),
                  "A liquid with `strength` [kg/m3] of active ingredient; density [kg/m3] if it is known.")
      .def_static("by_mass", &liquid_by_mass, py::arg("strength"), py::arg("density"),
                  "A liquid with `strength` [1] of active ingredient by mass; density [kg/m3].")
      .def_static("powder", &powder, py::arg("strength"),
                  "A powder with `strength` [1] of active ingredient.")
      .def_readonly("concentration", &Concentrate::concentration,
                    "Active ingredient per volume of product [kg/m3]; None for a powder.")
      .def_readonly("mass_share", &Concentrate::mass_share,
                    "Active ingredient per mass of product [1]; None where the density is not known.");
}

void register_mix(py::module_& m) {
  py::class_<TankMix>(m, "TankMix", "What to measure, and what reaches the crop, in SI.")
      .def_readonly("concentration", &TankMix::concentration, "[kg/m3]")
      .def_readonly("product", &TankMix::product, "[m3], of a powder [kg]")
      .def_readonly("water", &TankMix::water, "[m3]; None with a powder")
      .def_readonly("final_volume", &TankMix::final_volume, "[m3]")
      .def_readonly("used_volume", &TankMix::used_volume, "[m3]")
      .def_readonly("active_ingredient", &TankMix::active_ingredient, "put out [kg]")
      .def_readonly("area", &TankMix::area, "[m2]")
      .def_readonly("volume_rate", &TankMix::volume_rate, "[m]")
      .def_readonly("active_per_area", &TankMix::active_per_area, "[kg/m2]")
      .def_readonly("pots", &TankMix::pots)
      .def_readonly("volume_per_pot", &TankMix::volume_per_pot, "[m3]")
      .def_readonly("active_per_pot", &TankMix::active_per_pot, "[kg]")
      .def_readonly("fills", &TankMix::fills)
      .def_readonly("fill_volume", &TankMix::fill_volume, "[m3]")
      .def_readonly("product_per_fill", &TankMix::product_per_fill, "[m3], of a powder [kg]")
      .def_readonly("last_fill_volume", &TankMix::last_fill_volume, "[m3]")
      .def_readonly("product_in_last_fill", &TankMix::product_in_last_fill, "[m3], of a powder [kg]");
  m.def(
      "mix_tank",
      [](const Concentrate& product, double concentration, double final_volume, std::optional<double> area,
         std::optional<int> pots, std::optional<double> tank) {
        return mix(product, concentration, final_volume, {area, pots}, tank);
      },
      py::arg("product"), py::arg("concentration"), py::arg("final_volume"), py::kw_only(),
      py::arg("area") = py::none(), py::arg("pots") = py::none(), py::arg("tank") = py::none(),
      "What to mix so that `final_volume` [m3] holds `concentration` [kg/m3]; area [m2], tank [m3].");
  m.def(
      "applied_mix",
      [](const Concentrate& product, std::optional<double> volume, std::optional<double> mass,
         std::optional<double> water, std::optional<double> final_volume, std::optional<double> used,
         std::optional<double> area, std::optional<int> pots) {
        return applied(product, {volume, mass}, {water, final_volume}, used, {area, pots});
      },
      py::arg("product"), py::kw_only(), py::arg("volume") = py::none(), py::arg("mass") = py::none(),
      py::arg("water") = py::none(), py::arg("final_volume") = py::none(), py::arg("used") = py::none(),
      py::arg("area") = py::none(), py::arg("pots") = py::none(),
      "What an amount of product delivered: its volume [m3] or mass [kg], the water it was added to or the "
      "final "
      "volume [m3], how much was used [m3], area [m2].");
}

}  // namespace

void register_tank(py::module_& m) {
  register_concentrate(m);
  register_mix(m);
  m.def("volume_over_area", &volume_over_area, py::arg("volume_rate"), py::arg("area"),
        "Volume [m3] that covers `area` [m2] at `volume_rate` [m].");
  m.def("volume_for_pots", &volume_for_pots, py::arg("volume_per_pot"), py::arg("pots"),
        "Volume [m3] of so many drenches of `volume_per_pot` [m3].");
  m.def("concentration_for_dose", &concentration_for_dose, py::arg("dose"), py::arg("volume_per_pot"),
        "Concentration [kg/m3] that gives each pot `dose` [kg] in `volume_per_pot` [m3].");
  m.def("undissolved", &undissolved, py::arg("concentration"), py::arg("solubility"),
        "Active ingredient that stays undissolved [kg/m3].");
  m.def("reading_error", &reading_error, py::arg("amount"), py::arg("division"),
        "Half a division of the measuring device over the amount [1].");
  m.attr("volume_tolerance") = volume_tolerance;
  m.attr("reading_tolerance") = reading_tolerance;
}
