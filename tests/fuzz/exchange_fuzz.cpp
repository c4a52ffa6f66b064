// A stranger's file to be imported: arbitrary bytes, or an export with some of its bytes changed. It is refused in one
// line or taken in, and whatever it held the log can be read afterwards.
#include <cstdlib>
#include <vector>

#include "src/store/exchange.h"
#include "src/store/notes.h"
#include "src/store/students.h"
#include "src/system/printable.h"
#include "tests/fuzz/fuzz_input.h"
#include "tests/fuzz/scratch_file.h"

using namespace landfall;

namespace {

Log openedAnew(const std::filesystem::path& folder) {
    for (const char* end : {"", "-wal", "-shm"}) std::filesystem::remove((folder / "log.sqlite").string() + end);
    std::filesystem::remove_all(folder / "takes");
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    mustHold(static_cast<bool>(log), "a new log can be made");
    return std::move(*log);
}

// What an export writes of one sitting with curve, task and sound.
std::vector<std::uint8_t> goodFile(const std::filesystem::path& folder) {
    Log log = openedAnew(folder);
    Sitting sitting{.student = "Ines", .guitar = {}, .software = "0.1.0", .input = "simulated", .token = 77};
    for (int number = 1; number <= 3; ++number) {
        LoggedTry one;
        one.number = number;
        one.drill = "Half up";
        one.landing.sentence = "12 under";
        one.landing.move = {Gesture::bend, MidiPitch(67), MidiPitch(68), NeckPlace{2, 8}, {}};
        one.curve = packCurve(TryCurve{{Seconds(0.0), Cents(-100.0)}, {Seconds(0.5), Cents(-12.0)}});
        Task task{"drill", "Half up", "bend", ""};
        task.hash = hashOf(task);
        one.task = std::make_shared<Task>(task);
        const auto take = folder / "takes" / std::to_string(number);
        std::filesystem::create_directories(take);
        std::ofstream(take / "a.flac", std::ios::binary) << "fLaC sound";
        one.takeFile = (take / "a.flac").string();
        mustHold(static_cast<bool>(log.put(sitting, one)), "a try can be logged");
    }
    const auto student = findStudent(log, "Ines");
    for (const int number : {0, 2})
        mustHold(static_cast<bool>(keepNote(log, *student, {.sitting = 1, .number = number, .text = "said"})),
                 "a note can be kept");
    std::filesystem::remove(folder / "good");
    mustHold(static_cast<bool>(exportStudent(log, *student, {}, true, folder / "good")), "a student can be sent");
    std::ifstream in(folder / "good", std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    static const ScratchFile file("sent");
    static const std::filesystem::path folder = file.path.parent_path();
    static const std::vector<std::uint8_t> good = goodFile(folder);
    static Log log = openedAnew(folder);

    FuzzInput input(data, size);
    if (input.below(8) == 0) file.hold({data, size});
    else {
        std::vector<std::uint8_t> bytes = good;
        while (!input.empty()) {
            const std::size_t at = input.take<std::uint32_t>() % bytes.size();
            bytes[at] = input.take<std::uint8_t>();
        }
        file.hold(bytes);
    }
    const auto in = importFile(log, file.path);
    if (!in) {
        mustHold(!in.error().message.empty() && in.error().message.find(file.path.string()) != std::string::npos
                     && printable(in.error().message) == in.error().message,
                 "a refusal is one line that names the file");
        return 0;
    }
    const auto sittings = log.sittings();
    mustHold(static_cast<bool>(sittings), "the log can be read after an import");
    for (const SittingSummary& each : *sittings) {
        const auto tries = log.tries(each.id);
        mustHold(static_cast<bool>(tries), "every try of an import can be read");
        mustHold(static_cast<bool>(notesOn(log, each.id)), "every note of an import can be read");
        for (const LoggedTry& one : *tries) {
            mustHold(static_cast<bool>(log.curve(each.id, one.number)), "every curve of an import can be read");
            mustHold(one.takeFile.empty() || std::filesystem::exists(log.takeOf(one)), "a sound is where its try says");
        }
    }
    if (sittings->size() > 20) log = openedAnew(folder);
    return 0;
}
