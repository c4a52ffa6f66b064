#include "src/app/drill_loop.h"

#include <array>
#include <chrono>
#include <thread>

#include <fmt/core.h>

#include "dsp/quantise.h"
#include "src/audio/take_file.h"

namespace landfall {

namespace {

// Says each thing once, when it changes.
class Teller {
public:
    Teller(bool quietly, bool liveInput) : quiet(quietly), live(liveInput) {}

    void state(const DrillState& now) {
        if (!quiet && !now.message.empty() && now.message != message) fmt::print("{}\n", now.message);
        message = now.message;
        if (quiet) return;
        std::string line;
        switch (now.phase) {
            case DrillPhase::warmUp: line = fmt::format("Warm up first: easy fretting, then half steps, {:.0f} s. (n: go on)", now.left.value); break;
            case DrillPhase::resting: line = fmt::format("Rest {:.0f} s, let go of the neck. (n: go on)", now.left.value); break;
            case DrillPhase::asking: line = fmt::format("{}    try {} of {}", now.prompt, now.attempt, now.attempts); break;
            default: break;
        }
        // Countdowns are said once, when they begin.
        const bool counts = now.phase == DrillPhase::warmUp || now.phase == DrillPhase::resting;
        if (line.empty() || (counts ? now.phase == phase : line == said)) return;
        said = line;
        phase = now.phase;
        fmt::print("\n{}\n", line);
    }

    void level(const InputLevel& heard) {
        if (!live) return;
        const std::string now = heard.clipping   ? "The input clips: turn the interface's gain down."
                                : heard.noSignal ? "No signal: check the cable, the guitar's volume and the chosen channel."
                                                 : "";
        if (!now.empty() && now != levelSaid) fmt::print("{}\n", now);
        if (!now.empty() || !heard.noSignal) levelSaid = now;
    }

private:
    bool quiet, live;
    std::string said, message, levelSaid;
    DrillPhase phase = DrillPhase::done;
};

std::string provisionalWord(const Landing& landing) {
    if (!landing.firstStopError && !landing.landingError) return std::string(verdictName(landing.verdict));
    const double cents = (landing.firstStopError ? *landing.firstStopError : *landing.landingError).value;
    return std::abs(cents) < 0.5 ? "0" : fmt::format("{:.0f} {}", std::abs(cents), cents > 0.0 ? "over" : "under");
}

}  // namespace

Result<DrillLoopFindings> playDrill(const DrillLoopConfig& config, SoundSource& source, StoreWriter& log, const PlayerWord& word) {
    auto made = DrillSession::make(config.session);
    if (!made) return made.error();
    DrillSession& session = **made;
    const Drill& drill = config.session.runner.drill;
    Teller teller(config.quiet, source.live());
    for (const std::string& note : session.plan().notes()) fmt::print("{}\n", note);

    DrillLoopFindings found;
    std::vector<std::pair<int, Landing>> rows;  // number in the log
    std::array<float, 512> block{};
    std::array<float, 512> silence{};
    NeckPlace sounded{0, 0};
    bool ended = false;

    // Told by the writing thread, printed by this one.
    std::mutex troubleMutex;
    std::vector<std::string> takeTrouble;
    std::unique_ptr<TakeKeeper> keeper;
    if (!config.takes.empty())
        keeper = std::make_unique<TakeKeeper>(TakeKeeper::Config{.sampleRate = config.session.sampleRate}, [&](const TakeKeeper::Kept& kept) {
            const std::lock_guard lock(troubleMutex);
            if (!kept.error.empty()) takeTrouble.push_back(kept.error);
        });
    const auto hear = [&](std::span<float> samples) {
        quantise(samples);
        if (keeper) keeper->hear(samples);
        return session.hear(samples);
    };

    const auto mark = [&](const Landing& landing) {
        std::string take;
        if (keeper) {
            const auto file = config.takes / fmt::format("{}-{:.3f}-{}.flac", drill.name, landing.onset.value, landing.moveNumber);
            if (keeper->keep(landing.onset, landing.end, file)) take = file.string();
        }
        const int number = log.add({.drill = drill.name,
                                    .landing = landing,
                                    .aim = config.session.runner.aim,
                                    .guided = session.state().guided,
                                    .struck = false,
                                    .takeFile = take});
        rows.emplace_back(number, landing);
    };
    const auto handle = [&](const ListenerEvent& event) {
        if (const auto* level = std::get_if<InputLevel>(&event)) teller.level(*level);
        const auto lag = [&](Seconds at, const Landing& landing) { return 1000.0 * ((at - *landing.landingTime).value + source.behind().value); };
        if (const auto* early = std::get_if<ProvisionalLanding>(&event); early && early->landing.landingTime) {
            found.provisionalMs.push_back(lag(early->at, early->landing));
            if (!config.quiet && !session.state().byEar) fmt::print("  {} ...\n", provisionalWord(early->landing));
        }
        if (const auto* late = std::get_if<FinalLanding>(&event); late && late->landing.landingTime) {
            found.finalMs.push_back(lag(late->at, late->landing));
            if (!config.quiet && !session.state().byEar) fmt::print("  {}\n", late->landing.sentence);
        }
        if (const auto* over = std::get_if<TryEnded>(&event)) {
            if (!over->landing.landingTime && !config.quiet) fmt::print("  {}\n", over->landing.sentence);
            mark(over->landing);
        }
        if (const auto* struck = std::get_if<TryStruck>(&event))
            for (auto& [number, landing] : rows)
                if (landing.onset == struck->onset && log.strike(number)) fmt::print("  Struck: try {} does not count.\n", number);
    };

    while (!ended && session.state().phase != DrillPhase::done) {
        while (const auto line = source.news()) fmt::print("{}\n", *line);
        {
            const std::lock_guard lock(troubleMutex);
            for (const std::string& line : std::exchange(takeTrouble, {})) fmt::print("{}\n", line);
        }
        const auto heard = source.read(block);
        // A gap is heard as silence, so that times go on and what was cut off ends there.
        for (std::uint64_t missing = std::min<std::uint64_t>(heard.missing, 60 * 192000); missing > 0;) {
            const auto piece = static_cast<std::size_t>(std::min<std::uint64_t>(missing, silence.size()));
            for (const ListenerEvent& event : hear(std::span(silence).first(piece))) handle(event);
            missing -= piece;
        }
        if (heard.samples > 0)
            for (const ListenerEvent& event : hear(std::span(block).first(heard.samples))) handle(event);
        else if (!heard.ended)
            std::this_thread::sleep_for(std::chrono::milliseconds(2));
        ended = heard.ended;
        if (config.skipWaits && (session.state().phase == DrillPhase::warmUp || session.state().phase == DrillPhase::resting)) session.next();
        if (config.mostTries > 0 && session.summary().tries >= config.mostTries) session.stop();
        teller.state(session.state());
        if (config.targetNote && session.state().phase == DrillPhase::asking &&
            (session.state().place.string != sounded.string || session.state().place.fret != sounded.fret)) {
            sounded = session.state().place;
            source.sound(frequencyOf(session.state().moves.front().to, config.session.runner.guitar.a4), Seconds(1.0));
        }
        source.asked(session.state());
        while (const auto said = word()) {
            if (*said == "q") ended = found.stopped = true;
            else if (*said == "n") session.next();
            else if (*said == "s") session.see();
            else if (*said == "d" && !session.discard()) fmt::print("  There is no try to strike.\n");
        }
        std::fflush(stdout);
    }
    for (const ListenerEvent& event : session.finish()) handle(event);
    found.stopped = found.stopped || ended;
    teller.state(session.state());
    found.summary = session.summary();
    found.load = session.plan().load();
    for (const auto& [number, landing] : rows) found.landings.push_back(landing);
    return found;
}

void StoreNotices::add(const StoreNotice& notice) {
    if (notice.kind == StoreNotice::Kind::written) return;
    const std::lock_guard lock(mutex);
    lines.push_back(notice.message);
}

std::vector<std::string> StoreNotices::take() {
    const std::lock_guard lock(mutex);
    return std::exchange(lines, {});
}

}  // namespace landfall
