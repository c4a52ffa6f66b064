#include <nlohmann/json.hpp>

#include "src/formats/drill_file.h"

namespace landfall {

namespace {

nlohmann::ordered_json toJson(const Drill& drill, const Guitar& guitar) {
    nlohmann::ordered_json object{{"name", drill.name},
                                  {"trains", drill.trains},
                                  {"how", drill.how},
                                  {"meanwhile", drill.meanwhile},
                                  {"plays", describeSteps(drill)}};
    object["steps"] = nlohmann::ordered_json::array();
    for (const DrillStep& step : drill.steps)
        object["steps"].push_back({{"gesture", std::string(gestureName(step.gesture))},
                                   {"from_semitones", step.fromSemitones},
                                   {"to_semitones", step.toSemitones},
                                   {"fret_offset", step.fretOffset}});
    object["places"] = nlohmann::ordered_json::array();
    for (const NeckPlace place : drill.places)
        object["places"].push_back({{"string", place.string},
                                    {"fret", place.fret},
                                    {"name", placeName(guitar, place)},
                                    {"on_this_guitar", static_cast<bool>(movesAt(drill, guitar, place))}});
    object["sets"] = static_cast<int>(drill.places.size()) * drill.sets;
    object["tries_per_set"] = drill.tries;
    object["tries"] = totalTries(drill);
    object["rest_s"] = drill.rest.value;
    object["guided_tries"] = drill.guidedTries;
    object["last_set_by_ear"] = drill.lastSetByEar;
    object["subject"] = subjectNames[static_cast<std::size_t>(drill.subject)];
    if (drill.target) object["target"] = targetNames[static_cast<std::size_t>(*drill.target)];
    object["minutes"] = drillLength(drill).value / 60.0;
    return object;
}

}  // namespace

// Names come out of files that may not be UTF-8 throughout: replaced rather than refused.
std::string drillAsJson(const Drill& drill, const Guitar& guitar) {
    return toJson(drill, guitar).dump(2, ' ', false, nlohmann::json::error_handler_t::replace);
}

std::string drillsAsJson(const std::vector<Drill>& drills, const Guitar& guitar) {
    nlohmann::ordered_json all{{"drills", nlohmann::ordered_json::array()}};
    for (const Drill& drill : drills) all["drills"].push_back(toJson(drill, guitar));
    return all.dump(2, ' ', false, nlohmann::json::error_handler_t::replace);
}

}  // namespace landfall
