// In which units figures are told: as it is set where the desk was started. The server counts in metres
// and km/h.
import { figure } from "/static/words.js";

const imperial = document.body.dataset.units === "imperial";
const KMH_PER_MPH = 1.609344;
const METRES_PER_FOOT = 0.3048;

export const speed = (kmh) => (imperial ? `${figure(kmh / KMH_PER_MPH, 0)} mph` : `${figure(kmh, 0)} km/h`);

// A foot is a third of a metre: it takes one decimal less.
export const length = (metres, digits) => (
  imperial ? `${figure(metres / METRES_PER_FOOT, Math.max(digits - 1, 0))} ft` : `${figure(metres, digits)} m`);
