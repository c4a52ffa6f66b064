// The sound of a line with a known course: each move where it is asked, or as a test says, on an ideal stiff string.
#pragma once

#include <cmath>
#include <numbers>
#include <vector>

#include "src/music/line.h"
#include "tests/support/string_sound.h"

namespace landfall {

struct HowPlayed {
    double cents = 0.0;  // the target is missed by so much
    bool played = true;
};

// 48 kHz. `how` is by the moves' order, those past its end are played as asked. Begins with the line's first stroke;
// the last note is damped at its end, and `tail` seconds of silence follow.
inline std::vector<float> playedLine(const Line& line, double tempo, std::vector<HowPlayed> how = {},
                                     double tail = 0.0) {
    constexpr double rate = 48000.0, travel = 0.08, damping = 0.03;
    how.resize(line.moves.size());
    const double beat = 60.0 / tempo;
    std::vector<float> all(static_cast<std::size_t>((line.length * beat + tail) * rate));
    struct Way {
        double begin, from, to;
    };
    for (std::size_t i = 0; i < line.moves.size();) {
        const double begin = line.moves[i].beat * beat;
        std::vector<Way> ways;
        const std::size_t first = i;
        bool sounds = true;
        double at = 0.0;
        do {
            const Move& move = line.moves[i].move;
            sounds = sounds && how[i].played;
            const double to = move.to.value + 0.01 * how[i].cents;
            const double from = i > first ? at : kindOf(move.gesture).fromStroke ? to : move.from.value;
            if (sounds) ways.push_back({line.moves[i].beat * beat - begin + (i > first ? 0.0 : 0.1), from, at = to});
            ++i;
        } while (i < line.moves.size() && !line.moves[i].picked);
        if (ways.empty()) continue;
        const double end = (i < line.moves.size() ? line.moves[i].beat : line.length) * beat;
        const auto pitch = [&](double t) {
            double midi = ways.front().from;
            for (const Way& way : ways) {
                const double share = std::min(1.0, (t - way.begin) / travel);
                if (share > 0.0)
                    midi = way.from + (way.to - way.from) * (0.5 - 0.5 * std::cos(std::numbers::pi * share));
            }
            return 440.0 * std::exp2((midi - 69.0) / 12.0);
        };
        const auto sound =
            stringSound({.seconds = end - begin, .partials = 8, .seed = static_cast<unsigned>(first + 1)}, pitch);
        const auto offset = static_cast<std::size_t>(begin * rate);
        for (std::size_t n = 0; n < sound.size() && offset + n < all.size(); ++n) {
            const double left = static_cast<double>(sound.size() - n) / rate;
            const bool last = i == line.moves.size();
            all[offset + n] = sound[n] * static_cast<float>(std::min(1.0, left / (last ? damping : 0.003)));
        }
    }
    return all;
}

inline LineMove lineMove(Gesture gesture, double from, double to, double beat, bool picked = true) {
    LineMove made;
    made.move.gesture = gesture;
    made.move.from = MidiPitch(from);
    made.move.to = MidiPitch(to);
    made.picked = picked;
    made.beat = beat;
    made.anchor = picked ? Anchor::onset : Anchor::landing;
    made.ends = beat + 1.0;
    made.bar = 1 + static_cast<int>(beat / 4.0);
    made.count = 1.0 + std::fmod(beat, 4.0);
    return made;
}

// Two bars at 100 quarters a minute.
inline Line shortLine() {
    Line line;
    line.title = "Up the back stairs";
    line.tempo = 100.0;
    line.length = 8.0;
    line.barBegins = {0.0, 4.0};
    line.moves = {lineMove(Gesture::bend, 67, 69, 0), lineMove(Gesture::release, 69, 67, 1, false),
                  lineMove(Gesture::note, 64, 64, 2), lineMove(Gesture::note, 62, 62, 3),
                  lineMove(Gesture::note, 65, 65, 4), lineMove(Gesture::bend, 67, 68, 5),
                  lineMove(Gesture::note, 64, 64, 6), lineMove(Gesture::note, 60, 60, 7)};
    return line;
}

}  // namespace landfall
