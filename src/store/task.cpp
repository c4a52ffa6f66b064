#include "src/store/task.h"

#include <cstdint>

#include <fmt/core.h>

#include "src/formats/drill_file.h"
#include "src/music/gesture.h"

namespace landfall {

namespace {

Task hashed(Task task) {
    task.hash = hashOf(task);
    return task;
}

}  // namespace

Task taskOf(const Drill& drill) { return hashed({"drill", drill.name, drillAsToml(drill), {}}); }

Task taskOf(const Line& line) {
    std::string content = line.tempo ? fmt::format("tempo\t{}\n", *line.tempo) : "";
    if (line.target != Target::concert)
        content += fmt::format("target\t{}\n", targetNames[static_cast<std::size_t>(line.target)]);
    for (const LineMove& each : line.moves) {
        const Move& move = each.move;
        const std::string place = move.place ? fmt::format("{}/{}", move.place->string, move.place->fret) : "-";
        const std::string fret = move.targetFret ? std::to_string(*move.targetFret) : "-";
        content += fmt::format("{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}{}{}\n", each.beat, each.bar, each.count,
                               gestureName(move.gesture), place, move.from.value, move.to.value, fret,
                               each.picked ? "\tstroke" : "", each.vibrato ? "\tvibrato" : "");
    }
    return hashed({"phrase", line.title, std::move(content), {}});
}

std::string hashOf(const Task& task) { return hashOf(task.kind + '\0' + task.name + '\0' + task.content); }

std::string hashOf(std::string_view bytes) {
    std::uint64_t hash = 0xcbf29ce484222325u;
    for (const char byte : bytes) {
        hash ^= static_cast<unsigned char>(byte);
        hash *= 0x00000100000001b3u;
    }
    return fmt::format("{:016x}", hash);
}

}  // namespace landfall
