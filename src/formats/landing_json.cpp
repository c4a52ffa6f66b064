#include "src/formats/landing_json.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <nlohmann/json.hpp>

#include "src/music/chord_move.h"
#include "src/music/note_name.h"
#include "src/practice/chord_landing.h"

namespace landfall {

namespace {

using Json = nlohmann::ordered_json;

// A thousandth of a cent and a hundredth of a millisecond are finer than anything measured, and keep the file readable.
Json number(double value, double parts) {
    return std::isfinite(value) ? Json(std::round(value * parts) / parts) : Json(nullptr);
}

template <typename Quantity>
Json number(const std::optional<Quantity>& quantity, double parts = 1e3) {
    return quantity ? number(quantity->value, parts) : Json(nullptr);
}

Json vibratoJson(const VibratoReading& vibrato) {
    return {{"rate_hz", number(vibrato.rate.value, 1e3)},        {"width_cents", number(vibrato.width.value, 1e3)},
            {"bottom_cents", number(vibrato.bottom.value, 1e3)}, {"top_cents", number(vibrato.top.value, 1e3)},
            {"centre_cents", number(vibrato.centre.value, 1e3)}, {"evenness", number(vibrato.evenness, 1e3)}};
}

Json singleJson(const Landing& landing) {
    Json json{{"move", landing.moveNumber},
              {"gesture", gestureName(landing.move)},
              {"from", noteName(landing.move.from)},
              {"to", noteName(landing.move.to)},
              {"target", targetName(landing.target)},
              {"verdict", verdictName(landing.verdict)},
              {"sentence", landing.sentence},
              {"landing_error_cents", number(landing.landingError)},
              {"first_stop_error_cents", number(landing.firstStopError)},
              {"sd_cents", number(landing.sd)},
              {"landing_time_s", number(landing.landingTime, 1e5)},
              {"onset_s", number(landing.onset.value, 1e5)},
              {"end_s", number(landing.end.value, 1e5)},
              {"start_error_cents", number(landing.startError)},
              {"rise_time_s", number(landing.riseTime, 1e5)},
              {"correction_cents", number(landing.correction)},
              {"overshoot_cents", number(landing.overshoot)},
              {"hold_spread_cents", number(landing.holdSpread)},
              {"sag_cents", number(landing.sag)},
              {"hold_length_s", number(landing.holdLength, 1e5)},
              {"linger_s", number(landing.linger, 1e5)},
              {"level_kept_db", number(landing.levelKept)}};
    json["landed_fret"] = landing.landedFret ? Json(*landing.landedFret) : Json(nullptr);
    json["other_note_midi"] = number(landing.beside);
    json["vibrato"] = landing.vibrato ? vibratoJson(*landing.vibrato) : Json(nullptr);
    return json;
}

Json severalJson(const Landing& landing) {
    const auto asked = stringsOf(landing.move);
    Json notes = Json::array();
    for (std::size_t j = 0; j < landing.strings.size(); ++j) {
        const StringLanding& string = landing.strings[j];
        notes.push_back({{"from", noteName(asked[j].from)},
                         {"to", noteName(asked[j].to)},
                         {"heard", takenAsHeard(string)},
                         {"heard_sure", string.heard != StringHeard::notSure},
                         {"landing_error_cents", number(string.landingError)},
                         {"first_stop_error_cents", number(string.firstStopError)},
                         {"sd_cents", number(string.sd)},
                         {"interval_error_cents", number(string.interval)},
                         {"pure_interval_error_cents", number(string.pureInterval)},
                         {"dragged_cents", number(string.dragged)},
                         {"late_s", number(string.late, 1e5)}});
    }
    return {{"move", landing.moveNumber},
            {"gesture", gestureName(landing.move.gesture)},
            {"target", targetName(landing.target)},
            {"verdict", verdictName(landing.verdict)},
            {"sentence", landing.sentence},
            {"landing_time_s", number(landing.landingTime, 1e5)},
            {"onset_s", number(landing.onset.value, 1e5)},
            {"end_s", number(landing.end.value, 1e5)},
            {"beat_hz", number(landing.beat)},
            {"notes", notes}};
}

}  // namespace

std::string_view targetName(Target target) {
    static constexpr std::array<std::string_view, 4> names{"concert", "start-note", "own-guitar", "just"};
    return names[static_cast<std::size_t>(target)];
}

std::string landingsAsJson(std::span<const Landing> landings) {
    std::vector<Json> entries;
    for (const Landing& landing : landings)
        entries.push_back(landing.strings.empty() ? singleJson(landing) : severalJson(landing));
    std::stable_sort(entries.begin(), entries.end(),
                     [](const Json& a, const Json& b) { return a["move"] < b["move"]; });
    return Json{{"landings", entries}}.dump(2);
}

}  // namespace landfall
