// `landfall practise DRILL`: the string check, then a drill with marks as they come; with `--phrase` a line, with marks
// after each pass.
#include <algorithm>
#include <array>
#include <chrono>
#include <string>
#include <thread>

#include <fmt/core.h>

#include "dsp/quantise.h"
#include "dsp/statistics.h"
#include "src/app/commands.h"
#include "src/app/drill_loop.h"
#include "src/app/drill_play.h"
#include "src/app/line_loop.h"
#include "src/app/sitting.h"
#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "src/formats/table.h"
#include "src/practice/string_check.h"
#include "src/system/machine.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// Reads until the source has a rate. False: the player ended it. An error: waiting would not help.
Result<bool> waitForSound(SoundSource& source, RunningSitting& sitting, std::span<float> block) {
    while (source.sampleRate() <= 0.0) {
        source.read(block);
        while (const auto report = source.report()) {
            if (report->hopeless)
                return Error{Error::Code::notFound,
                             report->line + " (landfall demo and --input simulated need no device)"};
            fmt::print("{}\n", report->line);
        }
        while (const auto word = sitting.word())
            if (*word == "q") return false;
        std::fflush(stdout);
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    return true;
}

// The guitar as the check leaves it; empty when the player ends the program.
std::optional<Guitar> checkStrings(SoundSource& source, RunningSitting& sitting, Guitar guitar) {
    StringCheck check(guitar);
    HeldNoteEar ear(source.sampleRate());
    std::array<float, 512> block{};
    fmt::print("String check (n: skip this string, s: skip them all)\n");
    std::string prompt;
    std::string offer;
    while (!check.done()) {
        if (check.prompt() != prompt) fmt::print("{}\n", prompt = check.prompt());
        if (check.offer() && check.offer()->question != offer)
            fmt::print("{} (y/n)\n", offer = check.offer()->question);
        std::fflush(stdout);
        if (AskedPlayer* player = source.player()) player->askedString(check.asked());
        const auto heard = source.read(block);
        while (const auto report = source.report()) fmt::print("{}\n", report->line);
        if (heard.samples == 0) std::this_thread::sleep_for(std::chrono::milliseconds(2));
        const auto samples = std::span(block).first(heard.samples);
        quantise(samples);
        for (const HeldNote& note : ear.hear(samples)) {
            check.hear(note);
            fmt::print("  {}\n", check.message());
        }
        if (heard.ended) break;
        while (const auto word = sitting.word()) {
            if (*word == "q") return std::nullopt;
            if (*word == "s") return check.guitar();
            if (check.offer() && (*word == "y" || *word == "yes")) check.acceptOffer();
            else if (check.offer()) check.declineOffer();
            else if (*word == "n") check.skip();
        }
    }
    fmt::print("{}\n", check.prompt());
    return check.guitar();
}

// A new folder for the takes; empty, and said, where none can be made.
std::filesystem::path takesPlace() {
    const auto folder = newTakesFolder();
    if (!folder) fmt::print("{}\n", folder.error().message);
    return folder ? *folder : std::filesystem::path();
}

// Its places, with what they were the last time.
void sayPlaces(const std::vector<EndRow>& rows) {
    const bool before = std::any_of(rows.begin(), rows.end(), [](const EndRow& row) { return !row.before.empty(); });
    Table table{{"", "now", "last time"}, {}};
    for (const EndRow& row : rows) table.rows.push_back({row.place, row.now, row.before});
    if (!before) {
        table.columns.pop_back();
        for (auto& row : table.rows) row.pop_back();
    }
    if (!rows.empty()) fmt::print("{}\n", toColumns(table));
}

void sayEnd(const DrillLoopFindings& found, const std::vector<EndRow>& rows, const SoundSource& source) {
    fmt::print("\n{}\n\n", whole(found.summary.words));
    sayPlaces(rows);
    if (!found.summary.guesses.empty()) fmt::print("{}\n", found.summary.guesses);
    fmt::print("{}\n", found.summary.nextStep);
    if (!found.provisionalMs.empty() && !found.finalMs.empty())
        fmt::print(
            "First words came {:.0f} ms after the note arrived, marks were final after {:.0f} ms (medians of {}).\n",
            median(found.provisionalMs), median(found.finalMs), found.finalMs.size());
    for (const std::string& remark : source.remarks()) fmt::print("{}\n", remark);
}

int endAndSay(RunningSitting& now, const SimulatedLog& simulated) {
    const int status = now.end();
    if (status != 0 || now.log().state().tries == 0) return status;
    if (simulated.inUse())
        fmt::print("What the simulated student played is not kept: your log is yours alone. --log FILE keeps it.\n");
    else fmt::print("Saved in {}. See it with landfall log.\n", printable(now.log().state().log.string()));
    return status;
}

void sayPhrase(const Line& line, const Settings& settings, double tempo) {
    fmt::print("{} · {} · {} moves{} · marked after each pass, aim ±{:.0f}\n{}", printable(settings.student),
               line.title, line.moves.size(),
               tempo > 0.0  ? fmt::format(", {:g} quarters a minute asked", tempo)
               : line.tempo ? fmt::format(", {:g} quarters a minute", *line.tempo)
                            : "",
               settings.aim.value, lineTable(line));
    const Guitar& guitar = settings.guitar;
    if (!line.openStrings.empty() && (line.openStrings != guitar.openStrings || line.capo != guitar.capo))
        fmt::print("It is written for the tuning {}, {}.\n", tuningName(line.openStrings),
                   line.capo > 0 ? fmt::format("capo on {}", line.capo) : "without a capo");
}

int practisePhrase(const PractiseOptions& options, const Result<PhraseFile>& phrase) {
    if (!phrase) return fail(phrase.error());
    for (const std::string& what : phrase->notUnderstood) fmt::print(stderr, "landfall: {}\n", what);
    SimulatedLog ownLog;
    const auto wished = ownLog.chosenFor(options.sitting, options.source);
    if (!wished) return fail(wished.error());
    auto sitting = RunningSitting::begin(*wished, options.source);
    if (!sitting) return fail(sitting.error());
    RunningSitting& now = **sitting;
    // A recording has been played already.
    const auto heavy = heavyReason(phrase->line, now.settings().guitar);
    if (heavy && !options.heavy && options.source.kind() != SourceKind::file)
        return fail({Error::Code::badInput, fmt::format("{}: {} (--heavy does)", phrase->line.title, *heavy)});
    SourceWish wish = options.source;
    wish.fillIn(now.settings());
    wish.paced = !options.unpaced;
    wish.wantsOutput = false;
    const bool fromDevice = wish.kind() == SourceKind::device, simulated = wish.kind() == SourceKind::simulated;
    auto source = openSource(wish);
    if (!source) return fail(source.error());

    now.greet();
    sayPhrase(phrase->line, now.settings(), options.tempo);
    if (simulated) fmt::print("The simulated student {} plays.\n", wish.skill.name);
    std::array<float, 512> block{};
    const auto sound = waitForSound(**source, now, block);
    if (!sound || !*sound) {
        const int status = now.end();
        return sound ? status : fail(sound.error());
    }
    Guitar guitar = now.settings().guitar;
    if (!options.skipCheck && fromDevice) {
        const auto checked = checkStrings(**source, now, guitar);
        if (!checked) return now.end();
        guitar = *checked;
    }
    fmt::print("Play it when you are ready. A pass ends when you stop.\n");
    if (inputIsTerminal())
        fmt::print(
            "Keys, each with enter: f only what failed, w the whole line, d drops the last pass, n goes on, q "
            "quits.\n");
    const auto tempo = options.tempo > 0.0 ? std::optional(options.tempo) : std::nullopt;
    const int passes = practiseLine({.play = now.plan(phrase->line, guitar, tempo, (*source)->sampleRate()),
                                     .mostPasses = options.mostPasses,
                                     .skipWaits = options.unpaced || wish.kind() == SourceKind::file,
                                     .live = fromDevice || (simulated && !options.unpaced)},
                                    **source, now.log(), [&now] { return now.word(); });
    if (passes == 0) fmt::print("\nNothing of the line was heard.\n");
    for (const std::string& remark : (*source)->remarks()) fmt::print("{}\n", remark);
    return endAndSay(now, ownLog);
}

int practiseDrill(const PractiseOptions& options, const Result<Drill>& drill) {
    if (!drill) return fail(drill.error());
    SimulatedLog ownLog;
    const auto wished = ownLog.chosenFor(options.sitting, options.source);
    if (!wished) return fail(wished.error());
    auto sitting = RunningSitting::begin(*wished, options.source);
    if (!sitting) return fail(sitting.error());
    RunningSitting& now = **sitting;
    const Settings& settings = now.settings();
    // Before a string check, not after it.
    const auto asked = now.plan(*drill, settings.guitar, options.heavy, 0.0).session.runner;
    if (const auto playable = DrillRunner::make(asked, Seconds(0.0)); !playable) return fail(playable.error());
    SourceWish wish = options.source;
    wish.fillIn(settings);
    wish.paced = !options.unpaced;
    wish.wantsOutput = (settings.targetNote || settings.results == Sounded::tones) && !options.noTone;
    const bool fromDevice = wish.kind() == SourceKind::device, simulated = wish.kind() == SourceKind::simulated;
    auto source = openSource(wish);
    if (!source) return fail(source.error());

    now.greet();
    fmt::print("{} · {} · {}\n", printable(settings.student), drill->name, describeGuitar(settings.guitar));
    fmt::print("Your aim is {:g} cents: that near the target counts as good (100 cents are one fret).\n",
               settings.aim.value);
    if (simulated) fmt::print("The simulated student {} plays.\n", wish.skill.name);
    std::array<float, 512> block{};
    const auto sound = waitForSound(**source, now, block);
    if (!sound || !*sound) {
        const int status = now.end();
        return sound ? status : fail(sound.error());
    }

    Guitar guitar = settings.guitar;
    if (simulated) guitar.stiffness.clear();  // the student has strings of its own
    const bool fromFile = wish.kind() == SourceKind::file;
    if (!options.skipCheck && !fromFile) {
        const auto checked = checkStrings(**source, now, guitar);
        if (!checked) return now.end();
        guitar = *checked;
    }
    if (inputIsTerminal()) fmt::print("Keys, each with enter: d drops the last try, n goes on, q quits.\n");
    DrillLoopConfig loop{.play = now.plan(*drill, guitar, options.heavy, (*source)->sampleRate()),
                         .mostTries = options.mostTries,
                         .skipWaits = options.unpaced || fromFile,
                         .live = fromDevice || (simulated && !options.unpaced)};
    loop.play.targetNote = fromDevice && settings.targetNote && !options.noTone;
    loop.play.results = options.noTone || settings.feedback != Telling::everyTry ? Sounded::nothing : settings.results;
    if (loop.play.results == Sounded::speech) loop.play.speaker = std::make_shared<SpeechService>();
    if (options.keepTakes || (settings.keepTakes && !ownLog.inUse())) loop.play.takes = takesPlace();
    const DrillSummary before = now.lastTime(*drill);
    const auto found = playDrill(loop, **source, now.log(), [&now] { return now.word(); });
    if (!found) {
        now.end();
        return fail(found.error());
    }
    sayEnd(*found, endRows(found->summary, before, *drill, guitar), **source);
    if (!simulated) now.keepStiffness(found->stiffness);
    return endAndSay(now, ownLog);
}

}  // namespace

int runPractise(const PractiseOptions& options) {
    if (options.homework) {
        const auto task = homeworkNext(options.sitting.log, options.sitting.student);
        if (!task) return fail(task.error());
        PractiseOptions asked = options;
        if (task->aim && asked.sitting.aim == 0.0) asked.sitting.aim = task->aim->value;
        if (!task->isPhrase()) return practiseDrill(asked, std::get<Drill>(task->what));
        asked.tempo = task->tempo.value_or(0.0);
        asked.mostPasses = task->tries;  // then it is over, as a drill is
        return practisePhrase(asked, PhraseFile{std::get<Line>(task->what), {}});
    }
    if (!options.phrase.empty()) return practisePhrase(options, findPhrase(options.phrase));
    return practiseDrill(options, findDrill(options.drill));
}

}  // namespace landfall
