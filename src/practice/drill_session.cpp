#include "src/practice/drill_session.h"

#include <algorithm>

#include "src/practice/verdict.h"

namespace landfall {

namespace {

// The runner answers at multiples of so many samples, so that what is asked does not depend on how the input is cut.
constexpr std::uint64_t answerEvery = 256;

const Landing* landingOf(const ListenerEvent& event) {
    if (const auto* e = std::get_if<ProvisionalLanding>(&event)) return &e->landing;
    if (const auto* e = std::get_if<FinalLanding>(&event)) return &e->landing;
    if (const auto* e = std::get_if<TryEnded>(&event)) return &e->landing;
    return nullptr;
}

}  // namespace

Result<std::unique_ptr<DrillSession>> DrillSession::make(const Config& config) {
    auto runner = DrillRunner::make(config.runner, Seconds(0.0));
    if (!runner) return runner.error();
    return std::unique_ptr<DrillSession>(new DrillSession(std::move(*runner), config));
}

DrillSession::DrillSession(DrillRunner planned, const Config& config)
    : drill(config.runner.drill), aim(config.runner.aim), runner(std::move(planned)),
      listener({.sampleRate = config.sampleRate,
                .a4 = config.runner.guitar.a4,
                .target = config.target,
                .aim = config.runner.aim,
                .ownFrets = config.ownFrets,
                .stiffness = config.runner.guitar.stiffness,
                .capo = config.runner.guitar.capo}),
      sampleRate(config.sampleRate) {
    follow();
}

// Nothing is marked in a rest or a warm-up. While a string is being tuned a try is listened for whose start shows that
// it is in tune again.
void DrillSession::follow() {
    const DrillState& state = runner.state();
    const bool listens = state.phase == DrillPhase::asking || state.phase == DrillPhase::stringSlipped;
    const std::vector<Move> wanted = listens ? state.moves : std::vector<Move>{};
    if (wanted == asked) return;
    asked = wanted;
    listener.setMoves(asked, MoveOrder::everyTry);
}

void DrillSession::take(std::span<const ListenerEvent> fresh) {
    bool tuning = runner.state().phase == DrillPhase::stringSlipped;
    for (const ListenerEvent& event : fresh) {
        const Landing* landing = landingOf(event);
        if (tuning && landing && !DrillRunner::startsInTune(*landing)) continue;
        if (landing) tuning = false;
        events.push_back(event);
        if (auto* ended = std::get_if<TryEnded>(&events.back())) {
            ended->guided = runner.state().guided;
            unanswered.push_back(ended->landing);
            marks.push_back({ended->landing, ended->guided});
        }
        if (const auto* struck = std::get_if<TryStruck>(&event))
            std::erase_if(marks, [&](const DrillMark& mark) { return mark.landing.tryNumber == struck->tryNumber; });
    }
}

void DrillSession::answer() {
    for (const Landing& landing : unanswered) runner.landed(landing, now());
    unanswered.clear();
    runner.tick(now());
    follow();
}

std::span<const ListenerEvent> DrillSession::hear(std::span<const float> samples) {
    events.clear();
    while (!samples.empty()) {
        const auto room = static_cast<std::size_t>(answerEvery - heard % answerEvery);
        const auto piece = samples.first(std::min(room, samples.size()));
        take(listener.process(piece));
        heard += piece.size();
        samples = samples.subspan(piece.size());
        if (heard % answerEvery == 0) answer();
    }
    return events;
}

std::string DrillSession::targetRemark() const {
    const auto lacking = listener.lackingTarget();
    return lacking ? notHeldYetSentence(*lacking) : "";
}

std::span<const ListenerEvent> DrillSession::finish() {
    events.clear();
    take(listener.finish());
    answer();
    return events;
}

bool DrillSession::discard() {
    answer();  // the runner has heard of everything that ended
    const auto struck = listener.discardLast();
    if (!struck) return false;
    if (runner.playedLast(*struck)) runner.discard();  // else nothing of it had ended
    follow();
    return true;
}

}  // namespace landfall
