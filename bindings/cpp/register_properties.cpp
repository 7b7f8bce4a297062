// Python submodules `air` and `water`: every function takes numbers or NumPy arrays that broadcast together.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>

#include "wetspan/properties/air.hpp"
#include "wetspan/properties/water.hpp"

namespace py = pybind11;

namespace {

void register_saturation(py::module_& m) {
  using namespace wetspan::air;
  const auto T = py::arg("T"), e = py::arg("e");

  m.def("saturation_pressure", py::vectorize(saturation_pressure), T,
        "Saturation vapour pressure [Pa] at T [K], over ice below 273.15 K.\n\n"
        "ln p_s = c1/T + c2 + c3 T + c4 T^2 + c5 T^3 (+ c6 T^4 over ice) + c7 ln T; 173.15..473.15 K.\n"
        "Hyland & Wexler 1983, as in ASHRAE 2017 ch. 1 eqs. 5 and 6.");
  m.def("saturation_pressure_slope", py::vectorize(saturation_pressure_slope), T,
        "Slope of the saturation curve [Pa/K] at T [K], the exact derivative of saturation_pressure.");
  m.def("vapour_density", py::vectorize(vapour_density), e, T,
        "Density of water vapour [kg/m3] at vapour pressure e [Pa] and T [K]: e M_w/(R T), ideal gas.");
  m.def("saturation_vapour_density", py::vectorize(saturation_vapour_density), T,
        "Density of water vapour at saturation [kg/m3] at T [K], ideal gas; 173.15..473.15 K.");
  m.def("vapour_pressure_from_density", py::vectorize(vapour_pressure_from_density), py::arg("rho_v"), T,
        "Vapour pressure [Pa] of water vapour of density rho_v [kg/m3] at T [K]: rho_v R T/M_w, ideal gas.");
}

void register_humidity(py::module_& m) {
  using namespace wetspan::air;
  const auto T = py::arg("T"), e = py::arg("e"), P = py::arg("P"), w = py::arg("w"), rh = py::arg("rh");

  m.def("vapour_pressure", py::vectorize(vapour_pressure), rh, T,
        "Vapour pressure [Pa] from relative humidity rh [0..1] at T [K]: rh p_s(T).");
  m.def("relative_humidity", py::vectorize(relative_humidity), e, T,
        "Relative humidity [0..1] from vapour pressure e [Pa] at T [K]: e/p_s(T); over ice below 273.15 K.");
  m.def("humidity_ratio", py::vectorize(humidity_ratio), e, P,
        "Humidity ratio [kg/kg dry air] from vapour pressure e [Pa] and air pressure P [Pa]:\n"
        "0.621945 e/(P - e), for 0 <= e < P. ASHRAE 2017 ch. 1 eq. 20.");
  m.def("saturation_humidity_ratio", py::vectorize(saturation_humidity_ratio), T, P,
        "Humidity ratio at saturation [kg/kg dry air] at T [K] and P [Pa], ideal gas. ASHRAE 2017 ch. 1 "
        "eq. 21.");
  m.def("vapour_pressure_from_humidity_ratio", py::vectorize(vapour_pressure_from_humidity_ratio), w, P,
        "Vapour pressure [Pa] from humidity ratio w [kg/kg dry air] and air pressure P [Pa]: P w/(0.621945 "
        "+ w).");
  m.def("humidity_ratio_from_wet_bulb", py::vectorize(humidity_ratio_from_wet_bulb), T, py::arg("Twb"), P,
        "Humidity ratio [kg/kg dry air] of air at T [K] with wet-bulb temperature Twb [K] at P [Pa].\n\n"
        "Negative when no air at T can have so low a wet bulb. ASHRAE 2017 ch. 1 eq. 33, and 35 below 0 C.");
  m.def("dew_point", py::vectorize(dew_point), e,
        "Dew point [K], or frost point below 273.15 K, at vapour pressure e [Pa]: inverts "
        "saturation_pressure.\n\n"
        "Raises InputError unless p_s(173.15 K) <= e <= p_s(473.15 K).");
  m.def("wet_bulb", py::vectorize(wet_bulb), T, e, P,
        "Thermodynamic wet-bulb temperature [K] of air at T [K], vapour pressure e [Pa], pressure P [Pa].\n\n"
        "Solves humidity_ratio_from_wet_bulb(T, Twb, P) = humidity_ratio(e, P); a wet bulb counts before an "
        "iced one.\n"
        "Raises InputError for NaN, T outside 173.15..473.15 K, P not above p_s(T), e outside 0..p_s(T).");
  m.def("wet_bulb_stull", py::vectorize(wet_bulb_stull), T, rh,
        "Wet-bulb temperature [K] at 101325 Pa by an empirical fit to T [K] and rh [0..1].\n\n"
        "rh 0.05..0.99 and -20..50 C but for cold and dry air; -1.0..+0.65 K by its own account, +1.2 K at "
        "50 C.\n"
        "Stull 2011, doi:10.1175/JAMC-D-11-0143.1.");
}

void register_state(py::module_& m) {
  using namespace wetspan::air;
  const auto T = py::arg("T"), e = py::arg("e"), P = py::arg("P"), w = py::arg("w");

  m.def("enthalpy", py::vectorize(enthalpy), T, w,
        "Enthalpy [J/kg dry air] of moist air at T [K] and humidity ratio w: 1006 t + w (2501000 + 1860 t), "
        "t in C.\n"
        "ASHRAE 2017 ch. 1 eq. 30.");
  m.def("specific_heat", py::vectorize(specific_heat), w,
        "Specific heat [J/(kg K)] per kg of moist air of humidity ratio w: (1006 + 1860 w)/(1 + w).");
  m.def("density", py::vectorize(density), T, e, P,
        "Density of moist air [kg/m3] at T [K], vapour pressure e [Pa], pressure P [Pa], ideal gas:\n"
        "((P - e) M_a + e M_w)/(R T).");
  m.def("specific_volume", py::vectorize(specific_volume), T, w, P,
        "Volume of moist air [m3/kg dry air] at T [K], humidity ratio w, P [Pa], ideal gas:\n"
        "R T (1 + 1.607858 w)/(M_a P). ASHRAE 2017 ch. 1 eq. 26.");
  m.def("virtual_temperature", py::vectorize(virtual_temperature), T, e, P,
        "Temperature [K] of dry air as dense as air at T [K], e [Pa], P [Pa]: T/(1 - (1 - 0.621945) e/P).");
  m.def("psychrometric_constant", py::vectorize(psychrometric_constant), P, py::arg("latent_heat"),
        py::arg("specific_heat") = specific_heat_dry_air,
        "Psychrometric constant [Pa/K] at P [Pa], latent heat [J/kg], specific heat [J/(kg K)]:\n"
        "c_p P/(0.621945 lambda).");
  m.def("standard_atmosphere_pressure", py::vectorize(standard_atmosphere_pressure), py::arg("altitude"),
        "Pressure of the standard atmosphere [Pa] at an altitude [m], -5000..11000 m:\n"
        "101325 (1 - 2.25577e-5 altitude)^5.2559. ASHRAE 2017 ch. 1 eq. 3.");
}

void register_transport(py::module_& m) {
  using namespace wetspan::air;
  const auto T = py::arg("T"), e = py::arg("e"), P = py::arg("P");

  py::enum_<VapourDiffusivity>(m, "VapourDiffusivity", "Published fits of water vapour diffusivity in air.")
      .value("massman", VapourDiffusivity::massman, "Massman 1998")
      .value("marrero_mason", VapourDiffusivity::marrero_mason, "Marrero & Mason 1972");
  const auto choice = py::arg_v("choice", VapourDiffusivity::massman, "VapourDiffusivity.massman");

  m.def("dynamic_viscosity", py::vectorize(dynamic_viscosity), T,
        "Dynamic viscosity [Pa s] of dry air at T [K], dilute gas; 60..2000 K, within 1 %. Saturated air is "
        "1 %\n"
        "less viscous at 25 C. Lemmon & Jacobsen 2004, doi:10.1023/B:IJOT.0000022327.04529.f3.");
  m.def("thermal_conductivity", py::vectorize(thermal_conductivity), T,
        "Thermal conductivity [W/(m K)] of dry air at T [K], dilute gas; 60..2000 K, within 2 %.\n"
        "Lemmon & Jacobsen 2004, doi:10.1023/B:IJOT.0000022327.04529.f3.");
  m.def("kinematic_viscosity", py::vectorize(kinematic_viscosity), T, e, P,
        "Kinematic viscosity [m2/s] at T [K], e [Pa], P [Pa]: dynamic_viscosity/density.");
  m.def("thermal_diffusivity", py::vectorize(thermal_diffusivity), T, e, P,
        "Thermal diffusivity [m2/s] at T [K], e [Pa], P [Pa]: thermal_conductivity/(density specific_heat).");
  m.def("vapour_diffusivity_massman", py::vectorize(vapour_diffusivity_massman), T, P,
        "Diffusivity of water vapour in air [m2/s] at T [K], P [Pa]: 2.178e-5 (T/273.15)^1.81 (101325/P).\n"
        "273..373 K. Massman 1998, doi:10.1016/S1352-2310(97)00391-9.");
  m.def("vapour_diffusivity_marrero_mason", py::vectorize(vapour_diffusivity_marrero_mason), T, P,
        "Diffusivity of water vapour in air [m2/s] at T [K], P [Pa]: 2.09e-5 (T/273.15)^2.072 (101325/P).\n"
        "282..450 K. Marrero & Mason 1972, doi:10.1063/1.3253094, in the form given by Massman 1998.");
  m.def("vapour_diffusivity", py::vectorize(vapour_diffusivity), T, P, choice,
        "Diffusivity of water vapour in air [m2/s] at T [K] and P [Pa] by the chosen fit.");
  m.def("prandtl", py::vectorize(prandtl), T, py::arg("w") = 0.0,
        "Prandtl number [-] at T [K] and humidity ratio w: kinematic_viscosity/thermal_diffusivity.");
  m.def(
      "schmidt", py::vectorize(schmidt), T, e, P, choice,
      "Schmidt number [-] of water vapour at T [K], e [Pa], P [Pa]: kinematic_viscosity/vapour_diffusivity.");
}

void register_air(py::module_& m) {
  register_saturation(m);
  register_humidity(m);
  register_state(m);
  register_transport(m);
}

void register_water(py::module_& m) {
  using namespace wetspan::water;
  const auto T = py::arg("T");

  m.def("density", py::vectorize(density), T,
        "Density of liquid water at 101325 Pa [kg/m3] at T [K]; 273.15..423.15 K.\n"
        "Kell 1975, doi:10.1021/je60064a005.");
  m.def("dynamic_viscosity", py::vectorize(py::overload_cast<double>(dynamic_viscosity)), T,
        "Dynamic viscosity [Pa s] of liquid water at 101325 Pa and T [K]; 273.16..373 K, within 1 %. IAPWS "
        "R12-08.");
  m.def("dynamic_viscosity", py::vectorize(py::overload_cast<double, double>(dynamic_viscosity)), T,
        py::arg("rho"),
        "Dynamic viscosity [Pa s] of water or steam at T [K] and density rho [kg/m3], without the critical\n"
        "enhancement; 273.16..1173 K. IAPWS R12-08.");
  m.def("specific_heat", py::vectorize(specific_heat), T,
        "Specific heat [J/(kg K)] of liquid water at 0.1 MPa and T [K]; 253.15..383.15 K, within 0.1 %.\n"
        "IAPWS SR6-08(2011).");
  m.def("thermal_conductivity", py::vectorize(thermal_conductivity), T,
        "Thermal conductivity [W/(m K)] of liquid water at 0.1 MPa and T [K]; 253.15..383.15 K, within 2 %.\n"
        "IAPWS SR6-08(2011) eq. 8.");
  m.def("surface_tension", py::vectorize(surface_tension), T,
        "Surface tension of water [N/m] at T [K]: 0.2358 tau^1.256 (1 - 0.625 tau), tau = 1 - T/647.096 K;\n"
        "248..647.096 K. IAPWS R1-76(2014).");
  m.def("saturation_pressure", py::vectorize(saturation_pressure), T,
        "Saturation pressure over liquid water [Pa] at T [K]; 273.16..647.096 K, within 0.1 %. IAPWS "
        "SR1-86(1992).");
  m.def("saturation_pressure_slope", py::vectorize(saturation_pressure_slope), T,
        "Slope of the saturation curve [Pa/K] at T [K], the exact derivative of saturation_pressure.");
  m.def("saturated_liquid_density", py::vectorize(saturated_liquid_density), T,
        "Density of liquid water at saturation [kg/m3] at T [K]; 273.16..647.096 K. IAPWS SR1-86(1992).");
  m.def("saturated_vapour_density", py::vectorize(saturated_vapour_density), T,
        "Density of water vapour at saturation [kg/m3] at T [K], real gas; 273.16..647.096 K. IAPWS "
        "SR1-86(1992).");
  m.def("latent_heat", py::vectorize(latent_heat), T,
        "Latent heat of vaporisation [J/kg] at T [K]: T dp/dT (1/rho'' - 1/rho'); 273.16..640 K.\n"
        "IAPWS SR1-86(1992).");
}

}  // namespace

void register_properties(py::module_& m) {
  auto air = m.def_submodule(
      "air",
      "Properties of moist air: saturation, humidity, transport. All values are in SI: K, Pa, kg, m, s.");
  register_air(air);
  auto water = m.def_submodule(
      "water", "Properties of liquid water and its saturated vapour. All values are in SI: K, Pa, kg, m, s.");
  register_water(water);
}
