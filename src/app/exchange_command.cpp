// `landfall export` and `landfall import`: a student's practice sent from one log to another without a server.
#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/app/commands.h"
#include "src/practice/words.h"
#include "src/store/exchange.h"
#include "src/store/students.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// What goes out is said before it does.
std::string wordsOf(const Outgoing& out, const Student& student, bool takes) {
    const std::string size = fmt::format("{:.1f} MB", static_cast<double>(out.takeBytes) / 1e6);
    std::string words = fmt::format(
        "What is sent of {} ({}):\n  {} from {} to {}\n  {}, {} with their pitch curve\n  {}, as played\n  "
        "{}: {}\n  {}",
        student.name, student.uuid, counted(out.sittings, "sitting", "sittings"), dayText(*out.first),
        dayText(*out.last), counted(out.tries, "try", "tries"), out.curves,
        counted(out.tasks, "drill or phrase", "drills and phrases"),
        counted(static_cast<int>(out.guitars.size()), "guitar", "guitars"), fmt::join(out.guitars, ", "),
        out.notes > 0 ? counted(out.notes, "note", "notes") + " that were written\n  " : "");
    const std::string sounds = counted(out.takes, "kept sound", "kept sounds");
    if (takes) words += fmt::format("{}, {}", sounds, size);
    else
        words +=
            out.takes > 0 ? fmt::format("no sounds: --takes adds {}, {}", sounds, size) : "no sounds: none are kept";
    if (out.missingTakes > 0) words += fmt::format("; {} more can no longer be found", out.missingTakes);
    return words + "\nNothing about other students, and no settings.\n";
}

}  // namespace

int runExport(const ExportOptions& options) {
    std::optional<CalendarTime> since;
    if (!options.since.empty()) since = *dayNamed(options.since);
    const auto file = logNamed(options.log);
    if (!file) return fail(file.error());
    auto log = Log::open(*file, Log::Access::read);
    if (!log) return fail(log.error());
    auto student = findStudent(*log, options.student);
    if (!student) return fail(student.error());
    if (const auto asked = askNameOnce(*log, *student); !asked) return fail(asked.error());
    const auto out = outgoing(*log, *student, since);
    if (!out) return fail(out.error());
    if (out->sittings == 0)
        return fail({Error::Code::notFound, fmt::format("{} has played nothing{}: there is nothing to send",
                                                        student->name, since ? " since " + options.since : " yet")});
    fmt::print("{}", printableLines(wordsOf(*out, *student, options.takes)));
    std::fflush(stdout);
    if (const auto done = exportStudent(*log, *student, since, options.takes, options.output); !done)
        return fail(done.error());
    fmt::print("It is in {}, readable by you alone. `landfall import` takes it in elsewhere.\n",
               printable(options.output));
    return 0;
}

int runImport(const std::string& from, const std::string& named) {
    const auto file = logNamed(named);
    if (!file) return fail(file.error());
    auto log = Log::open(*file, Log::Access::write);
    if (!log) return fail(log.error());
    const auto in = importFile(*log, from);
    if (!in) return fail(in.error());
    fmt::print("{}{}: {}, {} and {} taken in; {} here already.\n", printable(in->student.name),
               in->newStudent ? ", new here" : "", counted(in->newSittings, "sitting", "sittings"),
               counted(in->newTries, "try", "tries"), counted(in->takes, "sound", "sounds"),
               counted(in->knownTries, "try was", "tries were"));
    if (in->newNotes > 0) fmt::print("New notes: {}.\n", in->newNotes);
    for (const std::string& line : in->conflicts) fmt::print("kept: {}\n", printable(line));
    return 0;
}

}  // namespace landfall
