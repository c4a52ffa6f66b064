#include "src/app/line_loop.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <thread>
#include <utility>

#include <fmt/core.h>

#include "src/app/input_words.h"
#include "src/app/safe_lines.h"
#include "src/practice/effect_ear.h"

namespace landfall {

namespace {

std::string moveWords(const LineMove& asked) {
    const Move& move = asked.move;
    std::string words = filledIn(kindOf(move.gesture).asked, move.gesture, move.width(), move.targetFret.value_or(0));
    if (asked.vibrato && move.gesture != Gesture::vibrato) words += " with vibrato";
    if (!move.place || !asked.picked) return words;
    words += fmt::format(" {}/{}", move.place->string, move.place->fret);
    for (const Move& other : move.with)
        words += fmt::format(" + {}{}/{}", other.gesture == move.gesture ? "" : "held ", other.place->string,
                             other.place->fret);
    return words;
}

std::string wordsOf(const PassOver& over, const PassWords& words) {
    std::string all = fmt::format("\nPass {}: {}\n\n{}\n", over.pass, words.share, words.headline);
    for (const std::string& each : words.failed) all += "\n  " + each;
    return all + (words.failed.empty() ? "" : "\n") + (words.tempo.empty() ? "" : "\n" + words.tempo);
}

// For hands that need no rest, and for a recording, whose player has rested or not.
CareLimits unlimited() {
    const Seconds forever(1e9);
    return {.sitting = forever,
            .warmUp = Seconds(0.0),
            .betweenMinutesOff = forever,
            .setsBetweenMinutesOff = 1000000000,
            .demandingFirstMonth = 1000000000,
            .demandingLater = 1000000000,
            .demandingRunning = 1000000000};
}

// Says each thing once, when it changes.
class LineTeller {
public:
    LineTeller(LinePlay& played, SafeLines& to, bool liveInput) : play(played), lines(to), live(liveInput) {}

    void line(const LineEvent& event) {
        const auto* over = std::get_if<PassOver>(&event);
        if (over == nullptr) return;
        lines.say(wordsOf(*over, play.words()));
        ++passes;
    }
    void input(const ListenerEvent& event) {
        if (const auto* level = std::get_if<InputLevel>(&event); level && live) signal.hear(*level, lines);
        const auto* heard = std::get_if<EffectHeard>(&event);
        if (heard == nullptr || std::ranges::count(effects, heard->effect) > 0) return;
        effects.push_back(heard->effect);  // each part of a line listens anew
        lines.say(std::string(effectSentence(heard->effect)));
    }
    void state() {
        const LineState& now = play.care().state();
        if (now.phase != phase && now.phase == LinePhase::warmUp)
            lines.say(fmt::format("\nWarm up, {:.0f} s. (n: go on)", now.left.value));
        if (now.phase != phase && now.phase == LinePhase::resting)
            lines.say(fmt::format("\nRest {:.0f} s, let go of the neck.", now.left.value));
        if (now.phase != phase && now.phase == LinePhase::playing) lines.say("\nPlay on when you are ready.");
        if (!now.message.empty() && now.message != message) lines.say(now.message);
        phase = now.phase;
        message = now.message;
    }
    // What the player typed.
    void answer(const std::string& word) {
        if (word == "n") play.next();
        if (word == "d" && play.discard()) lines.say("Dropped: that pass does not count.");
        if (word == "f" || word.empty()) {
            if (play.onlyFailed()) lines.say("\nOnly what failed:\n" + lineTable(play.line()));
            else lines.say("Nothing has failed in the last pass.");
        }
        if (word == "w" && play.isPart()) {
            play.whole();
            lines.say("\nThe whole line again.");
        }
    }

    int passes = 0;

private:
    LinePlay& play;
    SafeLines& lines;
    InputWords signal;
    std::vector<HeardEffect> effects;  // that were told
    bool live;
    LinePhase phase = LinePhase::playing;
    std::string message;
};

}  // namespace

std::string lineTable(const Line& line) {
    std::string table;
    for (std::size_t i = 0; i < line.moves.size(); ++i) {
        const bool begins = i == 0 || line.moves[i].bar != line.moves[i - 1].bar;
        if (begins && line.inTime) table += fmt::format("{}bar {:<3} ", i == 0 ? "" : "\n", line.moves[i].bar);
        table += (begins && (line.inTime || i == 0) ? "" : ", ") + moveWords(line.moves[i]);
    }
    return table + "\n";
}

int practiseLine(LineLoopConfig config, SoundSource& source, StoreWriter& log,
                 const std::function<std::optional<std::string>()>& word) {
    config.play.sampleRate = source.sampleRate();
    if (config.skipWaits) config.play.care.limits = unlimited();
    LinePlay play(std::move(config.play), log);
    SafeLines lines(log);
    LineTeller teller(play, lines, config.live);
    const LinePlay::Told tell{[&](const LineEvent& event) { teller.line(event); },
                              [&](const ListenerEvent& event) { teller.input(event); }};
    std::array<float, 512> block{};
    bool ended = false;
    while (!ended && play.care().state().phase != LinePhase::done
           && (config.mostPasses == 0 || teller.passes < config.mostPasses)) {
        while (const auto report = source.report()) fmt::print("{}\n", report->line);
        teller.state();
        play.lead(source);
        const auto heard = source.read(block);
        play.hear(std::span(block).first(heard.samples), heard.missing, tell);
        ended = heard.ended;
        while (const auto typed = word()) {
            if (*typed == "q") ended = true;
            else teller.answer(*typed);
        }
        lines.go();
        std::fflush(stdout);
        if (heard.samples == 0 && !ended) std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    teller.state();
    play.finish(tell);
    if (const std::string faster = play.faster(); !faster.empty()) lines.say("\n" + faster);
    log.drain();
    lines.go();
    return teller.passes;
}

}  // namespace landfall
