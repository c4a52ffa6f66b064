#include "src/practice/chord_listener.h"

#include <algorithm>
#include <array>
#include <map>

#include "dsp/kept_sound.h"
#include "dsp/pitch_tracker.h"
#include "dsp/quantise.h"
#include "src/music/chord_move.h"
#include "src/practice/chord_judge.h"

namespace landfall {

namespace {

constexpr double weakestStroke = 0.2;  // nepers: weaker breaks are frets and fingers
// Shares of the power. What a move's first notes leave unexplained after a stroke must be less than all but so much; a
// move that can go on from the one before needs more to be taken for picked again; going on is better than being left
// out.
constexpr double leastExplained = 0.1, pickedAgain = 0.3, goingOn = 0.01;

}  // namespace

struct ChordListener::State {
    State(std::vector<Move> given, const Config& wished)
        : moves(std::move(given)), sampleRate(wished.sampleRate),
          tracker({.sampleRate = sampleRate, .connected = true}), sound(sampleRate),
          voices({.sampleRate = sound.rate()}) {
        config.a4 = wished.a4;
        config.judge.aim = wished.aim.value;
        config.targets = Targets(wished.target);
    }

    // Moves that were played under one stroke.
    struct Group {
        std::size_t first = 0, count = 0;
        double stroke = 0.0, end = 0.0;  // s
        std::optional<double> firstStroke{};
    };

    void hear(float sample) {
        block[filled++] = sample;
        sound.hear(sample);
        if (filled < block.size()) return;
        filled = 0;
        const auto heard = tracker.process(block);
        for (const Break& stroke : heard.breaks)
            if (stroke.strength >= weakestStroke) breaks.push_back(stroke.time.value);
        for (const Onset& onset : heard.onsets) breaks.push_back(onset.time.value);
    }

    std::vector<double> strokes() const {
        std::vector<double> all = breaks, merged;
        std::sort(all.begin(), all.end());
        for (const double time : all)
            if (merged.empty() || time - merged.back() > strumMost) merged.push_back(time);
        return merged;
    }

    bool mayGoOn(std::size_t move) const { return move > 0 && goesOn(moves[move - 1], moves[move]); }

    // How well each move's first notes explain what sounds after each stroke.
    std::vector<std::vector<double>> gains(const std::vector<double>& at) {
        std::vector<std::vector<double>> all;
        std::map<std::vector<Hertz>, std::vector<double>> known;  // the same notes may be asked again and again
        for (std::size_t move = 0; move < moves.size(); ++move) {
            const auto stop = stopAt(moves[move], &Move::from, config.a4);
            auto [entry, isNew] = known.try_emplace(stop.pitches);
            for (std::size_t i = 0; isNew && i < at.size(); ++i) {
                const double until = i + 1 < at.size() ? std::max(at[i + 1], at[i] + 0.1) : sound.end();
                entry->second.push_back(1.0 - voices.misfit(sound.all(), at[i], until, stop));
            }
            all.push_back(entry->second);
            for (double& gain : all.back()) gain -= mayGoOn(move) ? pickedAgain : leastExplained;
        }
        return all;
    }

    enum Way { skipStroke, skipMove, pick, goOn };
    struct Best {
        double worth = 0.0;
        Way way = skipMove;
    };
    // [move][stroke][whether the move before is played]: the best from there to the end.
    using Table = std::vector<std::vector<std::array<Best, 2>>>;

    Table bestWays(const std::vector<std::vector<double>>& gain, std::size_t strokeCount) const {
        Table best(moves.size() + 1, std::vector<std::array<Best, 2>>(strokeCount + 1));
        for (std::size_t move = moves.size(); move-- > 0;)
            for (std::size_t i = strokeCount + 1; i-- > 0;)
                for (std::size_t played = 0; played < 2; ++played) {
                    Best most{best[move + 1][i][0].worth, skipMove};
                    const auto consider = [&most](double worth, Way way) {
                        if (worth > most.worth) most = {worth, way};
                    };
                    if (i < strokeCount) {
                        consider(best[move][i + 1][played].worth, skipStroke);
                        consider(gain[move][i] + best[move + 1][i + 1][1].worth, pick);
                    }
                    if (played == 1 && mayGoOn(move)) consider(goingOn + best[move + 1][i][1].worth, goOn);
                    best[move][i][played] = most;
                }
        return best;
    }

    // Of the strokes that no move was played under, the first one so soon before this one that it may belong to it.
    std::optional<double> firstStroke(const std::vector<double>& at, std::size_t i,
                                      std::optional<std::size_t> before) const {
        for (std::size_t k = before ? *before + 1 : 0; k < i; ++k)
            if (at[i] - at[k] < config.lateLongest) return at[k];
        return std::nullopt;
    }

    // Which moves were played under which stroke: the order kept, the whole as well explained as can be. A move that
    // can go on from the one before does so where no stroke of its own is heard.
    std::vector<Group> assign(const std::vector<double>& at) {
        const Table best = bestWays(gains(at), at.size());
        std::vector<Group> groups;
        std::size_t played = 0;
        std::optional<std::size_t> strokeBefore;
        for (std::size_t move = 0, i = 0; move < moves.size();) {
            const Way way = best[move][i][played].way;
            if (way == pick) {
                if (!groups.empty()) groups.back().end = at[i] - strokeEnds;
                groups.push_back({move, 1, at[i], sound.end(), firstStroke(at, i, strokeBefore)});
                strokeBefore = i;
            }
            if (way == goOn) ++groups.back().count;
            if (way == pick || way == skipStroke) ++i;
            if (way == skipStroke) continue;
            played = way != skipMove;
            ++move;
        }
        return groups;
    }

    std::vector<Landing> read(const Group& group) {
        const auto under = std::span(moves).subspan(group.first, group.count);
        return readStroke(voices, sound.all(), under, static_cast<int>(group.first) + 1, group.stroke, group.end,
                          config, group.firstStroke)
            .landings;
    }

    void learn(const Landing& landing) {
        if (landing.move.gesture != Gesture::note || landing.target != Target::concert) return;
        const auto asked = stringsOf(landing.move);
        for (std::size_t j = 0; j < asked.size(); ++j)
            if (const auto& above = landing.strings[j].landingError) config.targets.learnFret(asked[j].to, *above);
    }

    std::vector<Move> moves;
    double sampleRate;
    ChordJudgeConfig config;
    PitchTracker tracker;
    KeptSound sound;
    VoiceTracker voices;
    std::array<float, analysisBlock> block{};
    std::size_t filled = 0;
    std::vector<double> breaks;  // s
};

ChordListener::ChordListener(std::vector<Move> moves, const Config& config)
    : state(std::make_unique<State>(std::move(moves), config)) {}
ChordListener::~ChordListener() = default;

void ChordListener::process(std::span<const float> samples) {
    for (const float sample : samples) state->hear(quantise(sample));
}

std::vector<Landing> ChordListener::finish() {
    State& s = *state;
    const auto lag = static_cast<std::size_t>(s.tracker.latency().value * s.sampleRate);
    for (std::size_t i = 0; i < lag + analysisBlock; ++i) s.hear(0.0f);
    std::vector<Landing> landings;
    for (const State::Group& group : s.assign(s.strokes()))
        for (Landing& landing : s.read(group)) {
            s.learn(landing);
            landings.push_back(std::move(landing));
        }
    return landings;
}

}  // namespace landfall
