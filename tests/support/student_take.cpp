// student_take NAME FILE.wav: the sound of one of the shared takes (tests/support/student_takes.h); prints the moves as
// `landfall mark` takes them and the truth, as JSON. Without arguments: the names.
#include <fmt/core.h>
#include <nlohmann/json.hpp>
#include <sndfile.hh>

#include "dsp/quantise.h"
#include "tests/support/student_takes.h"

using namespace landfall;

namespace {

nlohmann::ordered_json described(const StudentTake& take, const TakeSound& sound) {
    nlohmann::ordered_json json{
        {"name", take.name}, {"moves", nlohmann::ordered_json::array()}, {"truths", nlohmann::ordered_json::array()}};
    for (const Move& move : take.moves())
        json["moves"].push_back(fmt::format("{}:{}:{}", gestureName(move.gesture), move.from.value, move.to.value));
    for (const MoveTruth& truth : sound.truths) {
        nlohmann::ordered_json one{{"onset_s", truth.onset.value},
                                   {"end_s", truth.end.value},
                                   {"arrival_s", nullptr},
                                   {"first_stop_cents", nullptr},
                                   {"landing_cents", nullptr}};
        if (truth.arrival) one["arrival_s"] = truth.arrival->value;
        if (truth.firstStopError) one["first_stop_cents"] = truth.firstStopError->value;
        if (truth.landingError) one["landing_cents"] = truth.landingError->value;
        json["truths"].push_back(one);
    }
    return json;
}

}  // namespace

int main(int argc, char** argv) {
    for (const StudentTake& take : studentTakes()) {
        if (argc != 3) {
            fmt::print("{}\n", take.name);
        } else if (take.name == argv[1]) {
            const TakeSound sound = soundOf(take);
            SndfileHandle file(argv[2], SFM_WRITE, SF_FORMAT_WAV | SF_FORMAT_PCM_24, 1, 48000);
            std::vector<int> values;
            for (const float sample : sound.samples) values.push_back(to24Bit(sample) * 256);
            if (file.write(values.data(), std::ssize(values)) != std::ssize(values)) {
                fmt::print(stderr, "student_take: {} cannot be written: {}\n", argv[2], file.strError());
                return 1;
            }
            fmt::print("{}\n", described(take, sound).dump(1));
            return 0;
        }
    }
    if (argc == 3)
        fmt::print(stderr, "student_take: there is no take \"{}\"; without arguments it lists them\n", argv[1]);
    return argc == 3 ? 2 : 0;
}
