#include "src/app/sitting.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <thread>

#include <fmt/core.h>

#include "src/practice/practice_care.h"
#include "src/store/students.h"
#include "src/store/totals.h"
#include "src/system/machine.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

volatile std::sig_atomic_t endSignal = 0;
void tellToEnd(int) { endSignal = 1; }

// The log may be busy or broken: then practice does not wait, and stays as careful as in a first month. The name
// becomes the log's own spelling of it.
bool isFirstMonth(const std::filesystem::path& file, std::string& student) {
    auto log = Log::open(file, Log::Access::read, Seconds(0.2));
    if (!log) return true;
    if (const auto known = findStudent(*log, student)) student = known->name;
    const auto first = log->firstSitting(student);
    return !first || !*first || calendarNow() - **first < std::chrono::days(30);
}

}  // namespace

int fail(const Error& error) {
    fmt::print(stderr, "landfall: {}\n", error.message);
    return 1;
}

int wrongUsage(const Error& error) {
    fail(error);
    return 2;
}

Result<Target> targetNamed(std::string name) {
    std::replace(name.begin(), name.end(), '-', ' ');
    if (const auto found = std::find(targetNames.begin(), targetNames.end(), name); found != targetNames.end())
        return static_cast<Target>(found - targetNames.begin());
    return Error{Error::Code::badInput,
                 fmt::format("'{}' is not a target: use concert, 'start note', 'own guitar' or just", name)};
}

std::string isTarget(const std::string& name) {
    const auto known = targetNamed(name);
    return known ? "" : known.error().message;
}

bool toldToEnd() {
    const bool told = endSignal != 0;
    endSignal = 0;
    return told;
}

SimulatedLog::~SimulatedLog() {
    std::error_code ignored;
    if (inUse()) std::filesystem::remove_all(folder, ignored);
}

Result<SittingWish> SimulatedLog::chosenFor(SittingWish wish, const SourceWish& input) {
    if (input.kind() != SourceKind::simulated || !wish.log.empty()) return wish;
    if (!inUse()) {
        auto made = newTemporaryFolder();
        if (!made) return made.error();
        folder = std::move(*made);
    }
    wish.log = (folder / "log.sqlite").string();
    return wish;
}

Result<std::unique_ptr<RunningSitting>> RunningSitting::begin(const SittingWish& wish, const SourceWish& input) {
    const auto at = settingsFile();
    if (!at) return at.error();
    auto loaded = loadSettings(*at);
    if (!loaded) return loaded.error();
    auto sitting = begin(wish, input, loaded->settings);
    if (sitting) (*sitting)->warnings = std::move(loaded->warnings);
    return sitting;
}

Result<std::unique_ptr<RunningSitting>> RunningSitting::begin(const SittingWish& wish, const SourceWish& input,
                                                              const Settings& inUse) {
    auto sitting = std::unique_ptr<RunningSitting>(new RunningSitting);
    const auto at = settingsFile();
    if (!at) return at.error();
    sitting->settingsAt = *at;
    sitting->loaded = inUse;
    Settings& settings = sitting->loaded;
    if (!wish.student.empty()) settings.student = wish.student;
    else if (input.kind() == SourceKind::simulated) settings.student = input.skill.name;
    if (settings.student.empty()) settings.student = "player";
    if (wish.aim > 0.0) settings.aim = Cents(wish.aim);
    settings.target = wish.target.value_or(settings.target);
    const auto log = chosenLogFile(settings, wish.log);
    if (!log) return log.error();
    sitting->firstMonth = isFirstMonth(*log, settings.student);
    StoreNotices& notices = sitting->notices;
    Sitting row;
    row.student = settings.student;
    row.guitar = settings.guitar;
    row.software = LANDFALL_VERSION;
    row.input = input.input;
    sitting->token = row.token;
    sitting->writer = std::make_unique<StoreWriter>(StoreWriter::Config{.log = *log, .sitting = std::move(row)},
                                                    [&notices](const StoreNotice& notice) { notices.add(notice); });
    std::signal(SIGINT, tellToEnd);
    std::signal(SIGTERM, tellToEnd);
    return sitting;
}

DrillPlay::Config RunningSitting::plan(const Drill& drill, const Guitar& guitar, bool heavy, double sampleRate) const {
    return {.session = {.runner = {.drill = drill,
                                   .guitar = guitar,
                                   .aim = loaded.aim,
                                   .firstMonth = firstMonth,
                                   .heavyAsked = heavy},
                        .sampleRate = sampleRate,
                        .target = loaded.target},
            .soundLevel = loaded.soundLevel};
}

DrillSummary RunningSitting::lastTime(const Drill& drill) const {
    const std::filesystem::path file = writer->state().log;
    std::error_code ignored;
    if (!std::filesystem::exists(file, ignored)) return {};
    auto log = Log::open(file, Log::Access::read, Seconds(0.2));
    if (!log) return {};
    const auto tries = log->lastTime(loaded.student, drill.name, token);
    return tries ? summarise(drillMarksOf(*tries), drill, loaded.aim) : DrillSummary{};
}

LinePlay::Config RunningSitting::plan(const Line& line, const Guitar& guitar, std::optional<double> tempo,
                                      double sampleRate) const {
    return {.line = line,
            .care = {.guitar = guitar, .firstMonth = firstMonth},
            .sampleRate = sampleRate,
            .a4 = guitar.a4,
            .aim = loaded.aim,
            .tempo = tempo};
}

void RunningSitting::greet() {
    for (const std::string& warning : warnings) fmt::print("{}\n", warning);
    if (!loaded.cautionsSeen.empty()) return;
    fmt::print("{}\n", cautions());
    // Only the date goes into the file: what the command line said was for this sitting.
    auto kept = loadSettings(settingsAt);
    if (!kept || kept->broken) return;  // until it is mended they are shown each time
    kept->settings.cautionsSeen = utcText(calendarNow()).substr(0, 10);
    if (const auto saved = saveSettings(settingsAt, kept->settings); !saved) fmt::print("{}\n", saved.error().message);
}

std::optional<std::string> RunningSitting::word() {
    for (const std::string& line : notices.take()) fmt::print("{}\n", line);
    if (toldToEnd()) return "q";
    return typedLine();
}

void RunningSitting::keepStiffness(std::vector<double> stiffness) {
    if (stiffness == loaded.guitar.stiffness) return;
    for (double& string : stiffness) {  // three digits say all that is known
        const double unit = string > 0.0 ? std::pow(10.0, std::floor(std::log10(string)) - 2.0) : 1.0;
        string = std::round(string / unit) * unit;
    }
    Settings after = loaded;
    after.guitar.stiffness = std::move(stiffness);
    if (const auto saved = saveChanges(settingsAt, loaded, after); !saved) fmt::print("{}\n", saved.error().message);
}

int RunningSitting::end() {
    auto state = writer->drain();
    for (const std::string& line : notices.take()) fmt::print("{}\n", line);
    std::error_code refused;
    std::filesystem::path folder = std::filesystem::temp_directory_path(refused);
    if (const auto data = dataFolder(); refused && data) folder = *data;
    while (state.waiting > 0) {
        std::filesystem::path spare = folder / ("landfall-" + std::to_string(token) + ".sqlite");
        if (inputIsTerminal()) {
            fmt::print("{} tries are not in the log: {}\nSave them in another file (enter: {}; x: lose them): ",
                       state.waiting, state.problem, printable(spare.string()));
            std::fflush(stdout);
            std::optional<std::string> answer;
            while (!(answer = word()) && !typingOver()) std::this_thread::sleep_for(std::chrono::milliseconds(50));
            if (answer && (*answer == "x" || *answer == "q")) break;
            if (answer && !answer->empty()) spare = *answer;
        }
        const auto saved = writer->continueIn(spare);
        if (saved) {
            fmt::print("This sitting is saved in {}. See it with landfall log --log {}.\n", printable(spare.string()),
                       printable(spare.string()));
            return 1;
        }
        fmt::print(stderr, "landfall: {}\n", saved.error().message);
        if (!inputIsTerminal() || typingOver()) break;
        state = writer->state();
    }
    return state.waiting > 0 ? 1 : 0;
}

void StoreNotices::add(const StoreNotice& notice) {
    if (notice.kind == StoreNotice::Kind::written) return;
    const std::lock_guard lock(mutex);
    lines.push_back(notice.kind == StoreNotice::Kind::recovered
                        ? "The log can be written again, and every try is in it."
                        : notice.message);
}

std::vector<std::string> StoreNotices::take() {
    const std::lock_guard lock(mutex);
    return std::exchange(lines, {});
}

}  // namespace landfall
