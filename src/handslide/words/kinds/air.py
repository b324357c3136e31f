"""What is said of each kind of fact whose topic is ``air``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "air.temperature": N_("temperature {value:g} is outside {low:g} to {high:g} °C"),
    "air.fahrenheit": N_(
        "temperature {value:g} is outside {low:g} to {high:g} °C (is that in Fahrenheit?)"
    ),
    "air.humidity": N_(
        "humidity {value:g} is outside {low:g} to {high:g} (a fraction; 50 % is 0.5)"
    ),
    "air.pressure": N_("pressure {value:g} is outside {low:g} to {high:g} Pa"),
    "air.co2": N_("CO2 {value:g} is outside {low:g} to {high:g} (a fraction; 400 ppm is 0.0004)"),
    "air.water": N_("water vapour {value:g} is outside {low:g} to {high:g} of the molecules"),
}
