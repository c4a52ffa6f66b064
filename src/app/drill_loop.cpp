#include "src/app/drill_loop.h"

#include <array>
#include <chrono>
#include <optional>
#include <thread>
#include <utility>

#include <fmt/core.h>

#include "src/app/input_words.h"
#include "src/app/safe_lines.h"
#include "src/practice/effect_ear.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

std::optional<Guess> guessOf(const std::string& word) {
    if (word == "u") return Guess::under;
    if (word == "i") return Guess::on;
    if (word == "o") return Guess::over;
    return {};
}

// Says each thing once, when it changes.
class DrillTeller {
public:
    DrillTeller(const DrillLoopConfig& config, SafeLines& to)
        : quiet(config.quiet), live(config.live), aim(config.play.session.runner.aim), lines(to) {}

    void state(const DrillState& now, const std::string& targetRemark) {
        if (!quiet && !now.message.empty() && now.message != message) lines.say(now.message);
        message = now.message;
        if (quiet) return;
        if (now.byEar && !byEar)
            lines.say(
                "\nBy ear: what each try was is told at the end of the set. After a try, say how it sounded: u under, "
                "i on it, o over (s shows them all).");
        if (!now.byEar || now.phase == DrillPhase::resting || now.phase == DrillPhase::done) showHeld();
        byEar = now.byEar;
        if (!targetRemark.empty() && targetRemark != remark) lines.say("Using concert pitch. " + targetRemark);
        remark = targetRemark;
        std::string line;
        switch (now.phase) {
            case DrillPhase::warmUp: line = fmt::format("Warm up for {:.0f} s. (n: start now)", now.left.value); break;
            case DrillPhase::resting:
                line = fmt::format("Rest for {:.0f} s: take your hand off the neck. Next: {}. (n: go on)",
                                   now.left.value, now.prompt);
                break;
            case DrillPhase::asking:
                line = fmt::format("{}    try {} of {}", now.prompt, now.attempt, now.attempts);
                break;
            default: break;
        }
        // Countdowns are said once, when they begin.
        const bool counts = now.phase == DrillPhase::warmUp || now.phase == DrillPhase::resting;
        if (line.empty() || (counts ? now.phase == phase : line == said)) return;
        said = line;
        phase = now.phase;
        lines.say("\n" + line);
    }

    void event(const ListenerEvent& event, DrillPlay& play) {
        if (const auto* heard = std::get_if<InputLevel>(&event); heard && live) input.hear(*heard, lines);
        if (const auto* struck = std::get_if<TryStruck>(&event))
            for (const DrillPlay::Row& row : play.rows())
                if (row.landing.tryNumber == struck->tryNumber)
                    lines.say(fmt::format("  Dropped: try {} does not count.", row.number));
        if (quiet) return;
        byEar = play.session().state().byEar;
        if (const auto* heard = std::get_if<EffectHeard>(&event)) lines.say(std::string(effectSentence(heard->effect)));
        if (const auto* early = std::get_if<ProvisionalLanding>(&event); early && early->landing.landingTime && !byEar)
            lines.say(fmt::format("  {} ...", firstWord(early->landing, {.aim = aim.value})));
        // Its row is written by the time the line is there.
        if (const auto* over = std::get_if<TryEnded>(&event)) {
            const bool hidden = byEar && over->landing.landingTime;
            const VerdictConfig config{.aim = aim.value, .subject = play.plan().session.runner.drill.subject};
            const std::string whole = completeSentence(over->landing, config);
            if (hidden) held.push_back(fmt::format("try {}: {}", play.rows().back().number, whole));
            lines.say("  " + (hidden ? "By ear: under, on it or over? (u, i, o)" : whole));
        }
        if (const auto* wrong = std::get_if<WrongStart>(&event)) {
            lines.say("  " + wrong->sentence);
            toldOf = wrong->note;
        }
        if (const auto* other = std::get_if<Noodling>(&event);
            other && !other->sentence.empty() && other->note != toldOf)
            lines.say("  " + other->sentence);
    }

    void say(const std::string& line) { lines.say(line); }

private:
    // Of a set by ear, once it is over or the player wants to see.
    void showHeld() {
        if (held.empty()) return;
        lines.say("\nBy ear that was:");
        for (const std::string& each : std::exchange(held, {})) lines.say("  " + each);
    }

    int toldOf = 0;  // the note that began elsewhere
    bool quiet, live;
    Cents aim;
    SafeLines& lines;
    InputWords input;
    std::string said, message, remark;
    std::vector<std::string> held;  // not told yet
    bool byEar = false;
    DrillPhase phase = DrillPhase::done;
};

}  // namespace

Result<DrillLoopFindings> playDrill(const DrillLoopConfig& config, SoundSource& source, StoreWriter& log,
                                    const PlayerWord& word) {
    auto made = DrillPlay::make(config.play, log);
    if (!made) return made.error();
    DrillPlay& play = **made;
    DrillSession& session = play.session();
    SafeLines lines(log);
    DrillTeller teller(config, lines);
    for (const std::string& note : session.plan().notes()) fmt::print("{}\n", note);

    DrillLoopFindings found;
    std::array<float, 512> block{};
    bool ended = false;
    std::optional<std::string> unspoken;  // is said once
    const auto handle = [&](const ListenerEvent& event) {
        teller.event(event, play);
        const auto lag = [&](Seconds at, const Landing& landing) {
            return 1000.0 * ((at - *landing.landingTime).value + source.clock().behind().value);
        };
        if (const auto* early = std::get_if<ProvisionalLanding>(&event); early && early->landing.landingTime)
            found.provisionalMs.push_back(lag(early->at, early->landing));
        if (const auto* late = std::get_if<FinalLanding>(&event); late && late->landing.landingTime)
            found.finalMs.push_back(lag(late->at, late->landing));
    };

    while (!ended && session.state().phase != DrillPhase::done) {
        while (const auto report = source.report()) fmt::print("{}\n", report->line);
        for (const std::string& line : play.takeTrouble()) fmt::print("{}\n", line);
        if (config.play.speaker && !unspoken && !config.play.speaker->trouble().empty())
            fmt::print("{}\n", unspoken.emplace(config.play.speaker->trouble()));
        const auto heard = source.read(block);
        play.hear(std::span(block).first(heard.samples), heard.missing, handle);
        if (heard.samples == 0 && !heard.ended) std::this_thread::sleep_for(std::chrono::milliseconds(2));
        ended = heard.ended;
        if (config.skipWaits
            && (session.state().phase == DrillPhase::warmUp || session.state().phase == DrillPhase::resting))
            session.next();
        if (config.mostTries > 0 && session.plan().tries() >= config.mostTries) session.stop();
        teller.state(session.state(), session.targetRemark());
        play.lead(source);
        while (const auto said = word()) {
            if (*said == "q") ended = found.stopped = true;
            else if (*said == "n") session.next();
            else if (*said == "s") session.see();
            else if (const auto guess = guessOf(*said)) {
                if (const auto answer = play.guess(*guess)) lines.say("  " + answer->rest);
            } else if (*said == "d" && !session.discard()) lines.say("  There is no try to drop.");
        }
        lines.go();
        std::fflush(stdout);
    }
    play.finish(handle);
    found.stopped = found.stopped || ended;
    teller.state(session.state(), session.targetRemark());
    log.drain();
    lines.go();
    found.summary = session.summary();
    found.load = session.plan().load();
    found.stiffness = session.stiffness();
    for (const DrillPlay::Row& row : play.rows()) found.landings.push_back(row.landing);
    return found;
}

}  // namespace landfall
