#include "src/practice/drill_session.h"

#include <algorithm>
#include <utility>

#include "src/practice/tally.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

// The runner answers at multiples of so many samples, so that what is asked does not depend on how the input is cut.
constexpr std::uint64_t answerEvery = 256;

// s: a note that died when the sound itself stopped, digitally silent for the half second that it takes to be told and
// for what the tracker is late, was cut by a cable or a switch
constexpr double brokeOffWithin = 1.0;

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
    : drill(config.runner.drill), guitar(config.runner.guitar), aim(config.runner.aim), runner(std::move(planned)),
      listener({.sampleRate = config.sampleRate,
                .a4 = config.runner.guitar.a4,
                .target = config.runner.drill.target.value_or(config.target),
                .aim = config.runner.aim,
                .ownFrets = config.ownFrets,
                .stiffness = config.runner.guitar.stiffness,
                .capo = config.runner.guitar.capo,
                .stringNames = briefNames(config.runner.guitar)}),
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

// A note that sounds may be a try; one that has ended may have another step to come.
void DrillSession::follow(const ListenerEvent& event) {
    if (const auto* stroke = std::get_if<PickStroke>(&event)) playing = {stroke->note, 0, true};
    if (const auto* began = std::get_if<TryBegan>(&event)) playing = {began->note, began->tryNumber, true};
    if (const auto* other = std::get_if<Noodling>(&event); other && other->note == playing.note) playing.open = false;
    if (const auto* level = std::get_if<InputLevel>(&event)) {
        // Told half a second after the sound stopped.
        const bool died = !marks.empty() && isLost(marks.back().landing)
                          && (level->at - marks.back().landing.end).value < brokeOffWithin;
        if (level->noSignal && !silent && died) brokenOff = true;
        silent = level->noSignal;
    }
    if (const auto* ended = std::get_if<TryEnded>(&event)) {
        const bool last = static_cast<std::size_t>(std::max(1, ended->landing.moveNumber)) >= asked.size();
        playing = {ended->landing.note, ended->landing.tryNumber, !last && !isLost(ended->landing)};
    }
}

void DrillSession::interrupt() {
    if (!std::exchange(playing.open, false)) return;
    if (playing.tryNumber > 0) {
        discard();
        return;
    }
    listener.setMoves(asked, MoveOrder::everyTry);  // drops what is in progress
    due.push_back(Noodling{now(), playing.note, "The sound broke off. Not counted."});
}

void DrillSession::take(std::span<const ListenerEvent> fresh) {
    bool tuning = runner.state().phase == DrillPhase::stringSlipped;
    for (const ListenerEvent& event : fresh) {
        const Landing* landing = landingOf(event);
        if (tuning && landing && !DrillRunner::startsInTune(*landing)) continue;
        if (landing) tuning = false;
        events.push_back(event);
        follow(event);
        if (auto* ended = std::get_if<TryEnded>(&events.back())) {
            ended->guided = runner.state().guided;
            ended->byEar = runner.state().byEar;
            unanswered.push_back(ended->landing);
            marks.push_back({ended->landing, ended->guided, {}, runner.state().place});
        }
        if (const auto* struck = std::get_if<TryStruck>(&event))
            std::erase_if(marks, [&](const DrillMark& mark) { return mark.landing.tryNumber == struck->tryNumber; });
    }
}

void DrillSession::answer() {
    for (const Landing& landing : unanswered) runner.landed(landing, now());
    unanswered.clear();
    if (std::exchange(brokenOff, false)) discard();
    runner.tick(now());
    follow();
}

std::span<const ListenerEvent> DrillSession::hear(std::span<const float> samples) {
    events = std::exchange(due, {});
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
    events = std::exchange(due, {});
    take(listener.finish());
    answer();
    return events;
}

std::optional<Landing> DrillSession::guess(Guess said) {
    if (marks.empty() || marks.back().guess || !truthOf(marks.back().landing, aim)) return {};
    marks.back().guess = said;
    return marks.back().landing;
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
