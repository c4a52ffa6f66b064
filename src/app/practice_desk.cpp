#include "src/app/practice_desk.h"

#include <utility>

#include "src/app/screens/settings_screen.h"
#include "src/formats/drill_file.h"

namespace landfall {

namespace {

constexpr double pauseHeard = 0.5;  // s of silence when another screen opens: what was ringing has ended
constexpr Seconds endShown{60.0};   // where a file is over the last mark has been seen long enough

}  // namespace

PracticeDesk::PracticeDesk(Config given, const Settings& inUse, InputDesk& inputDesk, SittingKeeper& keeper)
    : config(std::move(given)), settings(inUse), input(inputDesk), sittings(keeper), drill(config.drill),
      heavy(config.heavy), stiffness(settings.guitar.stiffness) {}

void PracticeDesk::ask(Drill next, bool heavyAsked, std::optional<Cents> aimAsked) {
    aim = aimAsked;
    refused.clear();
    drill = std::move(next);
    heavy = config.heavy || heavyAsked;
    wanted = true;
}

void PracticeDesk::act(Intent::Kind kind) {
    const bool over = !play || play->session().state().phase == DrillPhase::done;
    switch (kind) {
        case Intent::Kind::again:
            if (over) return begin();
            screen->again();
            play->soundTarget(input.source());
            break;
        case Intent::Kind::next:
            if (over) return beginNext();
            play->session().next();
            break;
        case Intent::Kind::discard:
            if (play) play->session().discard();
            break;
        case Intent::Kind::see:
            if (!play) return;
            play->session().see();
            screen->see();
            break;
        case Intent::Kind::guessUnder: return guess(Guess::under);
        case Intent::Kind::guessOn: return guess(Guess::on);
        case Intent::Kind::guessOver: return guess(Guess::over);
        default: break;
    }
}

void PracticeDesk::guess(Guess said) {
    if (!play || !screen->guesses()) return;
    if (const auto answer = play->guess(said)) screen->guessed(answer->headline + ".");
    summed = false;  // at a drill's end its summary is another
}

void PracticeDesk::beginNext() {
    ask(config.after(drill.name), false);
    begin();
}

// What is known of the frets of the guitar in hand: another one, or the same tuned otherwise, has frets of its own.
OwnFrets PracticeDesk::ownFrets(const Guitar& guitar) const {
    const Guitar& then = heardFrets.guitar;
    const bool same = then.name == guitar.name && then.openStrings == guitar.openStrings && then.capo == guitar.capo
                      && then.a4 == guitar.a4 && heardFrets.simulated == (input.kind() == SourceKind::simulated);
    return same ? heardFrets.frets : OwnFrets{};
}

void PracticeDesk::begin() {
    wanted = input.sampleRate() <= 0.0;
    if (wanted) return;  // as soon as the device runs
    leave();
    sittings.beginAfterPause(input.inUse(), calendarNow());
    Guitar guitar = settings.guitar;
    guitar.stiffness = input.kind() == SourceKind::simulated ? std::vector<double>{} : stiffness;
    summed = paused = false;
    drop();
    screen = std::make_unique<PracticeScreen>(PracticeScreen::Config{.drill = drill,
                                                                     .guitar = guitar,
                                                                     .aim = aim.value_or(settings.aim),
                                                                     .telling = settings.feedback,
                                                                     .tracing = settings.trace,
                                                                     .seeKey = keyName(settings.keys.see)});
    DrillPlay::Config plan = sittings.now().plan(drill, guitar, heavy, input.sampleRate());
    if (config.keepTakes || (settings.keepTakes && sittings.keepsTries())) {
        auto folder = newTakesFolder();
        if (folder) plan.takes = *folder;
        else trouble = folder.error().message;
    }
    plan.session.runner.load = sittings.load;
    if (aim) plan.session.runner.aim = *aim;
    plan.session.ownFrets = ownFrets(guitar);
    lastTime = sittings.now().lastTime(drill);
    auto made = DrillPlay::make(plan, sittings.log());
    refused = made ? "" : made.error().message;
    if (!made) return screen->refuse(refused);
    play = std::move(*made);
    soundAsSet(*play);
    follow();
}

void PracticeDesk::hear(const ListenerEvent& event) {
    input.hear(event);
    screen->hear(event);
    if (std::holds_alternative<TryEnded>(event)) sittings.tried(calendarNow());
    if (std::holds_alternative<TryStruck>(event)) summed = false;  // at a drill's end its summary is another
}

void PracticeDesk::follow(Seconds after) { screen->follow(play->session().state(), play->session().now() + after); }

void PracticeDesk::hear(std::span<float> samples, std::uint64_t missing, bool open) {
    const double rate = input.sampleRate();
    if (rate > 0.0 && wanted && open) begin();
    const auto tell = [this](const ListenerEvent& event) { hear(event); };
    // A rest that is not seen, or cannot be played after, does not run down.
    const DrillPhase phase = play ? play->session().state().phase : DrillPhase::done;
    const bool pause = (!open && phase == DrillPhase::asking) || (input.away() && phase != DrillPhase::done);
    if (pause && !paused) play->hear({}, static_cast<std::uint64_t>(pauseHeard * rate), tell);
    paused = pause;
    if (!play || paused) return input.listen(samples);
    play->hear(samples, missing, tell);
    follow();
}

void PracticeDesk::finish() {
    if (!play) return;
    play->finish([this](const ListenerEvent& event) { hear(event); });
    play->session().stop();
    follow();
}

void PracticeDesk::lead() {
    if (!play) return;
    if (!paused) play->lead(input.source());
    if (summed || play->session().state().phase != DrillPhase::done) return;
    summed = true;
    const DrillSummary summary = play->session().summary();
    screen->finish(summary, play->session().now(),
                   endRows(summary, lastTime, drill, play->plan().session.runner.guitar));
    if (input.over()) follow(endShown);
}

bool PracticeDesk::over() const {
    if (wanted) return false;
    return play ? play->session().state().phase == DrillPhase::done : !refused.empty();
}

PracticeDesk::End PracticeDesk::end() const {
    if (!play) return {.drill = drill.name, .why = refused};
    End end{.drill = drill.name, .summary = play->session().summary()};
    if (end.summary.gestures.empty()) end.why = play->session().state().message;
    return end;
}

void PracticeDesk::leave() {
    if (!play) return;
    sittings.load = play->session().plan().load();
    if (input.kind() != SourceKind::simulated) stiffness = play->session().stiffness();
    heardFrets = {play->plan().session.runner.guitar, input.kind() == SourceKind::simulated,
                  play->session().ownFrets()};
    play.reset();
}

void PracticeDesk::drop() {
    versionsBefore = version();
    screen.reset();
}

void PracticeDesk::clear() {
    leave();
    drop();
}

// Results that are held back from the eye are from the ear, too.
void PracticeDesk::soundAsSet(DrillPlay& of) {
    const bool atOnce = settings.feedback == Telling::everyTry && settings.trace != Tracing::byEar;
    const Sounded results = atOnce ? settings.results : Sounded::nothing;
    if (results != Sounded::speech) speaker.reset();
    else if (!speaker) speaker = std::make_shared<SpeechService>();
    of.soundTargets(input.kind() == SourceKind::device && settings.targetNote, settings.soundLevel, results, speaker);
}

void PracticeDesk::followSettings() {
    if (play) soundAsSet(*play);
    if (screen) screen->tell(settings.feedback, settings.trace);
}

std::string PracticeDesk::slipped() const {
    if (!play || play->session().state().phase != DrillPhase::stringSlipped) return {};
    return play->session().state().message;
}

std::string PracticeDesk::targetRemark() const { return play ? play->session().targetRemark() : ""; }

const std::string& PracticeDesk::takeTrouble() {
    if (play)
        for (std::string& line : play->takeTrouble()) trouble = std::move(line);
    return trouble;
}

}  // namespace landfall
