#include "src/formats/line_json.h"

#include <cmath>

#include <nlohmann/json.hpp>

#include "src/practice/chord_landing.h"

namespace landfall {

namespace {

using Json = nlohmann::ordered_json;

template <typename Quantity>
Json number(const std::optional<Quantity>& quantity, double scale, double parts) {
    return quantity ? Json(std::round(scale * quantity->value * parts) / parts) : Json(nullptr);
}

Json moveJson(const LineMark& mark) {
    Json move{{"number", mark.move + 1},
              {"outcome", outcomeName(mark.outcome)},
              {"onset_s", number(mark.onset, 1.0, 1e5)},
              {"landing_time_s", number(mark.landingTime, 1.0, 1e5)},
              {"landing_error_cents", number(mark.landingError, 1.0, 1e3)},
              {"timing_ms", number(mark.timing, 1e3, 1e2)},
              {"linger_ms", number(mark.lingered, 1e3, 1.0)},
              {"verdict", mark.landingError ? verdictName(mark.verdict) : outcomeName(mark.outcome)}};
    for (const StringLanding& string : mark.strings)
        move["strings"].push_back({{"heard", takenAsHeard(string)},
                                   {"heard_sure", string.heard != StringHeard::notSure},
                                   {"landing_error_cents", number(string.landingError, 1.0, 1e3)},
                                   {"sd_cents", number(string.sd, 1.0, 1e3)},
                                   {"interval_error_cents", number(string.interval, 1.0, 1e3)},
                                   {"pure_interval_error_cents", number(string.pureInterval, 1.0, 1e3)}});
    if (mark.beat) move["beat_hz"] = number(mark.beat, 1.0, 1e3);
    return move;
}

}  // namespace

std::string lineMarksAsJson(const LineMarks& marks) {
    Json moves = Json::array(), extra = Json::array();
    for (const LineMark& mark : marks.moves) moves.push_back(moveJson(mark));
    for (const Seconds time : marks.extra) extra.push_back(std::round(time.value * 1e5) / 1e5);
    return Json{{"moves", moves},
                {"extra", extra},
                {"tempo_bpm", marks.tempo ? Json(std::round(*marks.tempo * 1e3) / 1e3) : Json(nullptr)}}
        .dump(2);
}

}  // namespace landfall
