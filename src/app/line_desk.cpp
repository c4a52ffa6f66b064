#include "src/app/line_desk.h"

#include <utility>

namespace landfall {

namespace {

constexpr Seconds longestPart{240.0};  // of one line in Today: as long as a drill may last

}  // namespace

void LineDesk::ask(Line next, Goals asked) {
    clear();
    line = std::move(next);
    goals = asked;
    wanted = true;
    screen = std::make_unique<StonesScreen>(line->title, settings.guitar, goals.aim.value_or(settings.aim));
    screen->ask(*line, line->moves.size());
}

void LineDesk::begin() {
    leave();
    wanted = false;
    sittings.beginAfterPause(input.inUse(), calendarNow());
    LinePlay::Config plan = sittings.now().plan(*line, settings.guitar, goals.tempo, input.sampleRate());
    plan.care.load = sittings.load;
    if (goals.aim) plan.aim = *goals.aim;
    wholePasses = 0;
    play = std::make_unique<LinePlay>(std::move(plan), sittings.log());
    versionsBefore = version();
    screen = std::make_unique<StonesScreen>(line->title, settings.guitar, goals.aim.value_or(settings.aim));
    askedAnew();
}

void LineDesk::askedAnew() {
    screen->ask(play->line(), line->moves.size());
    follow();
}

void LineDesk::act(Intent::Kind kind) {
    if (!play) return;
    const LinePhase phase = play->care().state().phase;
    switch (kind) {
        case Intent::Kind::again:
            if (phase != LinePhase::playing) return;
            if (!play->isPart()) {
                play->whole();
                screen->again();
            } else {
                play->whole();
                askedAnew();
            }
            break;
        case Intent::Kind::next:
            if (phase == LinePhase::warmUp || phase == LinePhase::resting) {
                play->next();
            } else if (play->onlyFailed()) {
                askedAnew();
            } else if (play->isPart()) {
                play->whole();
                askedAnew();
            }
            break;
        case Intent::Kind::discard:
            if (play->discard()) screen->say("Dropped: that pass does not count.");
            break;
        default: break;
    }
    follow();
}

LinePlay::Told LineDesk::tell() {
    return {[this](const LineEvent& event) {
                screen->hear(event, play->words(), play->faster());
                if (!std::holds_alternative<PassOver>(event)) return;
                sittings.tried(calendarNow());
                if (!play->isPart()) ++wholePasses;
            },
            [this](const ListenerEvent& event) { input.hear(event); }};
}

void LineDesk::hear(std::span<float> samples, std::uint64_t missing, bool open) {
    if (wanted && open && input.sampleRate() > 0.0) begin();
    const bool pause = play && !open && play->care().state().phase == LinePhase::playing;
    if (pause && !paused) play->finish(tell());
    paused = pause;
    if (!play || paused) return input.listen(samples);
    play->hear(samples, missing, tell());
    follow();
}

void LineDesk::finish() {
    if (!play) return;
    play->finish(tell());
    follow();
}

bool LineDesk::over() const {
    if (!play || wanted) return false;
    if (play->care().state().phase == LinePhase::done) return true;
    return goals.enough > 0 && (wholePasses >= goals.enough || play->now() > longestPart);
}

void LineDesk::follow() {
    if (!play) return;
    screen->follow(play->care().state(), play->anyFailed());
    if (over()) screen->end();
}

void LineDesk::lead() {
    if (play && !paused) play->lead(input.source());
}

void LineDesk::leave() {
    if (!play) return;
    play->finish(tell());
    sittings.load = play->care().load();
    play.reset();
}

void LineDesk::clear() {
    leave();
    versionsBefore = version() + 1;
    screen.reset();
    line.reset();
    wanted = false;
}

std::optional<Stones> LineDesk::stones() const { return screen ? std::optional(screen->stones()) : std::nullopt; }

}  // namespace landfall
