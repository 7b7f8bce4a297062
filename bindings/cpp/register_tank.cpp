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
           py::arg("concentration"), py::arg("mass_share"),
           "Makes a product from its active ingredient per volume [kg/m3] and per mass [1]; either may be "
           "None.")
      .def_static("by_volume", &liquid_by_volume, py::arg("strength"), py::arg("density") = py::none(),
                  "Makes a liquid product with `strength` [kg/m3] of active ingredient. The density [kg/m3] "
                  "may be None if it is not known.")
      .def_static(
          "by_mass", &liquid_by_mass, py::arg("strength"), py::arg("density"),
          "Makes a liquid product with `strength` [1] of active ingredient by mass and a density [kg/m3].")
      .def_static("powder", &powder, py::arg("strength"),
                  "Makes a powder with `strength` [1] of active ingredient by mass.")
      .def_readonly("concentration", &Concentrate::concentration,
                    "Active ingredient per volume of product [kg/m3]; None for a powder.")
      .def_readonly("mass_share", &Concentrate::mass_share,
                    "Active ingredient per mass of product [1]; None where the density is not known.");
}

void register_mix(py::module_& m) {
  py::class_<TankMix>(
      m, "TankMix",
      "Amounts to measure and amounts that reach the crop, in SI. A member is None if it does not apply or "
      "its input was not given.")
      .def_readonly("concentration", &TankMix::concentration,
                    "Active ingredient per volume of the mix [kg/m3].")
      .def_readonly("product", &TankMix::product, "Amount of product [m3], of a powder [kg].")
      .def_readonly("water", &TankMix::water, "Volume of water [m3]; None for a powder.")
      .def_readonly("final_volume", &TankMix::final_volume, "Volume of the mix [m3].")
      .def_readonly("used_volume", &TankMix::used_volume, "Volume that is applied [m3].")
      .def_readonly("active_ingredient", &TankMix::active_ingredient, "Amount that is applied [kg].")
      .def_readonly("area", &TankMix::area, "Area that is treated [m2].")
      .def_readonly("volume_rate", &TankMix::volume_rate, "Volume per area [m].")
      .def_readonly("active_per_area", &TankMix::active_per_area, "Active ingredient per area [kg/m2].")
      .def_readonly("pots", &TankMix::pots, "Number of pots that are treated.")
      .def_readonly("volume_per_pot", &TankMix::volume_per_pot, "Volume per pot [m3].")
      .def_readonly("active_per_pot", &TankMix::active_per_pot, "Active ingredient per pot [kg].")
      .def_readonly("fills", &TankMix::fills, "Number of fills of the tank.")
      .def_readonly("fill_volume", &TankMix::fill_volume, "Volume of a full tank [m3].")
      .def_readonly("product_per_fill", &TankMix::product_per_fill,
                    "Product for a full tank [m3], of a powder [kg].")
      .def_readonly("last_fill_volume", &TankMix::last_fill_volume, "Volume of the last fill [m3].")
      .def_readonly("product_in_last_fill", &TankMix::product_in_last_fill,
                    "Product for the last fill [m3], of a powder [kg].");
  m.def(
      "mix_tank",
      [](const Concentrate& product, double concentration, double final_volume, std::optional<double> area,
         std::optional<int> pots, std::optional<double> tank) {
        return mix(product, concentration, final_volume, {area, pots}, tank);
      },
      py::arg("product"), py::arg("concentration"), py::arg("final_volume"), py::kw_only(),
      py::arg("area") = py::none(), py::arg("pots") = py::none(), py::arg("tank") = py::none(),
      "Computes the amounts for a mix of `final_volume` [m3] with `concentration` [kg/m3]. `area` [m2] or "
      "`pots` state what is treated, and `tank` [m3] is the volume of a full tank.");
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
      "Computes what an amount of product delivered. The amount is a `volume` [m3] or a `mass` [kg]; the "
      "mix is given by the `water` that was added or by its `final_volume` [m3]. `used` [m3] was applied, "
      "by default all of it, to an `area` [m2] or to `pots`.");
}

}  // namespace

void register_tank(py::module_& m) {
  register_concentrate(m);
  register_mix(m);
  m.def("volume_over_area", &volume_over_area, py::arg("volume_rate"), py::arg("area"),
        "Returns the volume [m3] that covers `area` [m2] at `volume_rate` [m].");
  m.def("volume_for_pots", &volume_for_pots, py::arg("volume_per_pot"), py::arg("pots"),
        "Returns the volume [m3] that drenches `pots` with `volume_per_pot` [m3] each.");
  m.def("concentration_for_dose", &concentration_for_dose, py::arg("dose"), py::arg("volume_per_pot"),
        "Returns the concentration [kg/m3] that gives each pot `dose` [kg] in `volume_per_pot` [m3].");
  m.def("undissolved", &undissolved, py::arg("concentration"), py::arg("solubility"),
        "Returns the concentration of active ingredient that stays undissolved [kg/m3].");
  m.def("reading_error", &reading_error, py::arg("amount"), py::arg("division"),
        "Returns the reading error of a measured amount [1]: half a division of the measuring device over "
        "the amount.");
  m.attr("volume_tolerance") = volume_tolerance;
  m.attr("reading_tolerance") = reading_tolerance;
}
