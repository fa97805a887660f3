// Answers for psychrolib: one line of numbers on standard output for each line of numbers on standard input.
"use strict";
const psy = require("psychrolib");
psy.SetUnitSystem(psy.SI);

const answers = {
  // K → Pa
  "saturation": ([kelvin]) => [psy.GetSatVapPres(kelvin - 273.15)],
  // °C, relative humidity, Pa → °C
  "wet-bulb": ([air, humidity, pressure]) => [psy.GetTWetBulbFromRelHum(air, humidity, pressure)],
  // Room air as above, its flow in m³/s, the outlet's °C, what leaves the liner in kg/s → relative humidity at the outlet
  "outlet": ([air, humidity, pressure, flow, outlet, rate]) => {
    const inlet = psy.GetHumRatioFromRelHum(air, humidity, pressure);
    const dryAir = flow / psy.GetMoistAirVolume(air, inlet, pressure);
    return [psy.GetRelHumFromHumRatio(outlet, inlet + rate / dryAir, pressure)];
  },
};

const answer = answers[process.argv[2]];
const lines = require("fs").readFileSync(0, "utf8").trim().split("\n");
console.log(lines.map((line) => answer(line.split(" ").map(Number)).join(" ")).join("\n"));
