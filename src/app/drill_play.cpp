#include "src/app/drill_play.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include <fmt/core.h>

#include "dsp/quantise.h"
#include "dsp/statistics.h"
#include "src/app/hold_sound.h"
#include "src/audio/tone.h"
#include "src/music/chord_move.h"
#include "src/music/name_match.h"
#include "src/practice/chord_landing.h"
#include "src/practice/line_marks.h"
#include "src/practice/verdict.h"
#include "src/system/machine.h"

namespace landfall {

namespace {

constexpr Seconds targetLength{1.0};
constexpr double gapHeard = 0.5;  // s
constexpr double pairRate = 48000.0;
// s: until a speech service begins, and a letter at a usual pace (from memory)
constexpr double speechStarts = 0.5, speechLetter = 0.08;

}  // namespace

Result<std::filesystem::path> newTakesFolder() {
    const auto data = dataFolder();
    if (!data) return data.error();
    const auto all = *data / "takes";
    std::filesystem::path folder = all / localText(calendarNow());
    std::error_code refused;
    std::filesystem::create_directories(all, refused);
    // Two drills of one minute: never two takes with one name.
    for (int count = 2; !refused && !std::filesystem::create_directory(folder, refused) && !refused; ++count)
        folder = all / fmt::format("{} {}", localText(calendarNow()), count);
    if (!refused) std::filesystem::permissions(all, std::filesystem::perms::owner_all, refused);
    if (refused)
        return Error{Error::Code::unwritable,
                     fmt::format("{}: {}; the sound of the tries is not kept", folder.string(), refused.message())};
    return folder;
}

Result<std::unique_ptr<DrillPlay>> DrillPlay::make(const Config& config, StoreWriter& log) {
    auto made = DrillSession::make(config.session);
    if (!made) return made.error();
    return std::unique_ptr<DrillPlay>(new DrillPlay(config, std::move(*made), log));
}

DrillPlay::DrillPlay(const Config& given, std::unique_ptr<DrillSession> made, StoreWriter& writer)
    : config(given), drill(std::move(made)), log(writer),
      task(std::make_shared<Task>(taskOf(config.session.runner.drill))) {
    if (config.takes.empty()) return;
    keeper = std::make_unique<TakeKeeper>(TakeKeeper::Config{.sampleRate = config.session.sampleRate},
                                          [this](const TakeKeeper::Kept& kept) {
                                              const std::lock_guard lock(troubleMutex);
                                              if (!kept.error.empty()) trouble.push_back(kept.error);
                                          });
}

// The last step of a try, or the one that failed; nothing where the ear is asked first.
void DrillPlay::tellBySound(const Landing& landing) {
    const DrillState& state = drill->state();
    const bool more =
        landing.landingError && static_cast<std::size_t>(std::max(1, landing.moveNumber)) < state.moves.size();
    if (config.results != Sounded::nothing && !more && (state.guided || !state.byEar)) toSound = landing;
}

void DrillPlay::soundResult(SoundSource& source) {
    if (!toSound) return;
    const Landing landing = *std::exchange(toSound, std::nullopt);
    const Cents aim = config.session.runner.aim;
    if (config.results == Sounded::speech) {
        if (!config.speaker) return;
        const std::string words =
            wordsOf(landing, {.aim = aim.value, .subject = config.session.runner.drill.subject}).headline;
        config.speaker->say(words);
        drill->ownSound(Seconds(speechStarts + speechLetter * static_cast<double>(words.size())));
        return;
    }
    SoundOutput* output = source.output();
    if (output == nullptr || !landing.landingError) return;
    const Hertz a4 = config.session.runner.guitar.a4;
    const auto counts = stringThatCounts(landing);
    const MidiPitch asked = counts ? stringsOf(landing.move)[*counts].to : landing.move.to;
    const MidiPitch played(asked.value + saidError(landing, aim).value / 100.0);
    output->play(
        std::make_shared<const std::vector<float>>(tonePair(frequencyOf(asked, a4), frequencyOf(played, a4), pairRate)),
        pairRate, config.soundLevel);
    drill->ownSound(tonePairLength);
}

void DrillPlay::soundTargets(bool wanted, Decibels level, Sounded results, std::shared_ptr<SpeechService> speaker) {
    config.targetNote = wanted;
    config.soundLevel = level;
    config.results = results;
    config.speaker = std::move(speaker);
}

void DrillPlay::handle(const ListenerEvent& event) {
    if (const auto* live = std::get_if<LiveStrings>(&event)) {
        if (!strings.empty() && strings.back().note != live->note) strings.clear();
        strings.push_back(*live);
    }
    if (const auto* over = std::get_if<TryEnded>(&event)) {
        const std::string& name = config.session.runner.drill.name;
        std::string take;
        if (keeper) {
            const auto file = config.takes
                              / fmt::format("{}-{:.3f}-{}.flac", fileNameFor(name), over->landing.onset.value,
                                            over->landing.moveNumber);
            if (keeper->keep(over->landing.onset, over->landing.end, file)) take = file.string();
        }
        LoggedTry row{.drill = name,
                      .landing = over->landing,
                      .aim = config.session.runner.aim,
                      .guided = over->guided,
                      .struck = false,
                      .takeFile = take};
        row.told = over->guided ? ToldWhen::live : over->byEar ? ToldWhen::byEar : ToldWhen::after;
        row.pass = over->landing.tryNumber;
        row.stroke = strokeOf(over->landing);
        row.task = task;
        if (row.landing.strings.empty()) keepCurve(row);
        else keepStringCurve(row);
        logged.push_back({log.add(std::move(row)), over->landing});
        tellBySound(over->landing);
    }
    // Who plays on is not talked over.
    if (std::holds_alternative<PickStroke>(event)) {
        toSound.reset();
        if (config.speaker && config.results == Sounded::speech) config.speaker->silence();
    }
    if (const auto* struck = std::get_if<TryStruck>(&event))
        for (const Row& row : logged)
            if (row.landing.tryNumber == struck->tryNumber) log.strike(row.number);
}

std::optional<StrokeKind> DrillPlay::strokeOf(const Landing& landing) const {
    const Line steps = lineOf(drill->state().moves);
    const auto step = static_cast<std::size_t>(landing.moveNumber - 1);
    if (step >= steps.moves.size()) return {};
    return strokeKind(landing.move.gesture, steps.moves[step].picked);
}

// Of several strings the one's that counts, against its own target.
void DrillPlay::keepStringCurve(LoggedTry& row) const {
    const auto counts = stringThatCounts(row.landing);
    TryCurve curve;
    for (const LiveStrings& live : strings)
        if (counts && live.note == row.landing.note && live.moveNumber == row.landing.moveNumber)
            curve.push_back({live.time - row.landing.onset, live.fromTarget[*counts]});
    if (!curve.empty()) row.curve = packCurve(curve);
    row.targetCents = targetOf(row.landing);
}

// Of another target than equal temperament the landing
// says how far off it was, and the curve what was played: together they say what it was.
void DrillPlay::keepCurve(LoggedTry& row) const {
    const Landing& landing = row.landing;
    const Hertz a4 = config.session.runner.guitar.a4;
    const Hertz concert = frequencyOf(landing.move.to, a4);
    TryCurve curve;
    std::vector<double> held;
    HoldSound sound(row);
    for (const HeardPitch& each : drill->heardBetween(landing.onset, landing.end)) {
        CurvePoint& point = curve.emplace_back(CurvePoint{each.at - landing.onset, {}});
        if (!each.pitch) continue;
        point.fromTarget = interval(concert, *each.pitch);
        sound.add(each.at, each.level, each.brightness);
        if (sound.holds(each.at)) held.push_back(point.fromTarget->value);
    }
    sound.keepIn(row);
    Cents target{0.0};
    const bool isConcert = landing.target == Target::concert;
    if (!isConcert && !held.empty() && landing.landingError && !landing.vibrato)
        target = Cents(median(std::move(held))) - *landing.landingError;
    else if (!isConcert) target = Cents(std::numeric_limits<double>::quiet_NaN());
    if (std::isfinite(target.value)) {
        row.targetCents = Cents(100.0 * landing.move.to.value + target.value);
        for (CurvePoint& point : curve)
            if (point.fromTarget) point.fromTarget = *point.fromTarget - target;
    }
    row.curve = packCurve(curve);
}

void DrillPlay::hearPiece(std::span<float> samples, const Told& tell) {
    quantise(samples);
    if (keeper) keeper->hear(samples);
    for (const ListenerEvent& event : drill->hear(samples)) {
        handle(event);
        tell(event);
    }
}

void DrillPlay::hear(std::span<float> samples, std::uint64_t missing, const Told& tell) {
    std::array<float, 512> silence{};
    if (missing > 0) drill->interrupt();
    const auto heard = static_cast<std::uint64_t>(gapHeard * config.session.sampleRate);
    for (std::uint64_t left = std::min(missing, heard); left > 0;) {
        const auto piece = static_cast<std::size_t>(std::min<std::uint64_t>(left, silence.size()));
        hearPiece(std::span(silence).first(piece), tell);
        left -= piece;
    }
    if (!samples.empty()) hearPiece(samples, tell);
}

void DrillPlay::finish(const Told& tell) {
    for (const ListenerEvent& event : drill->finish()) {
        handle(event);
        tell(event);
    }
}

std::optional<Words> DrillPlay::guess(Guess said) {
    const auto landing = drill->guess(said);
    if (!landing) return {};
    for (const Row& row : logged)
        if (row.landing.tryNumber == landing->tryNumber && row.landing.moveNumber == landing->moveNumber)
            log.guess(row.number, said);
    return guessWords(said, *landing, config.session.runner.aim);
}

void DrillPlay::soundTarget(SoundSource& source) {
    const DrillState& state = drill->state();
    SoundOutput* output = source.output();
    if (output == nullptr || state.moves.empty()) return;
    std::vector<Hertz> notes;
    for (const Move& string : stringsOf(state.moves.front()))
        notes.push_back(frequencyOf(string.to, config.session.runner.guitar.a4));
    if (notes.size() == 1) output->play(notes.front(), targetLength, config.soundLevel);
    else
        output->play(std::make_shared<const std::vector<float>>(tonesTogether(notes, targetLength, pairRate)), pairRate,
                     config.soundLevel);
    drill->ownSound(targetLength);
}

void DrillPlay::lead(SoundSource& source) {
    soundResult(source);
    const DrillState& state = drill->state();
    if (config.targetNote && state.phase == DrillPhase::asking && state.place != sounded) {
        sounded = state.place;
        soundTarget(source);
    }
    if (AskedPlayer* player = source.player()) player->asked(state);
}

std::vector<std::string> DrillPlay::takeTrouble() {
    const std::lock_guard lock(troubleMutex);
    return std::exchange(trouble, {});
}

}  // namespace landfall
