#include <doctest/doctest.h>

#include <cstdio>
#include <fstream>
#include <string>

#include <sys/wait.h>

#include "src/formats/drill_file.h"
#include "tests/support/command.h"

namespace {

struct Run {
    std::string output;  // stdout and stderr
    int status = -1;
};

Run run(const std::string& arguments, const std::string& environment = "") {
    Run result;
    FILE* pipe = popen((environment + " '" + LANDFALL_PROGRAM + "' " + arguments + " 2>&1").c_str(), "r");
    REQUIRE(pipe != nullptr);
    char buffer[512];
    while (const std::size_t got = std::fread(buffer, 1, sizeof buffer, pipe)) result.output.append(buffer, got);
    const int ended = pclose(pipe);
    result.status = WIFEXITED(ended) ? WEXITSTATUS(ended) : -1;
    return result;
}

}  // namespace

TEST_CASE("landfall drills lists every drill with places, tries and minutes") {
    const Run list = run("drills");
    CHECK(list.status == 0);
    for (const char* name :
         {"Half up", "Whole up", "Up and stay", "Up and home", "Bent before", "Twelve along", "One fret in"})
        CHECK_MESSAGE(list.output.find(name) != std::string::npos, name);
    CHECK(list.output.find("B string 8, 9, 10") != std::string::npos);
    CHECK(list.output.find("18 tries") != std::string::npos);
    CHECK(list.output.find("min") != std::string::npos);
}

TEST_CASE(
    "landfall drills lists the player's own drills too, finds them by name, and names a file that cannot be read") {
    const landfall::TestFolder data;
    const std::string environment = "XDG_DATA_HOME='" + data.path.string() + "'";
    landfall::Drill own = landfall::builtInDrills().front();
    own.name = "Mine, all mine";
    REQUIRE(landfall::keepDrill(data / "landfall/drills", own));
    landfall::writeText(data / "landfall/drills/broken.toml", "name = 3\n");
    const Run list = run("drills", environment);
    CHECK(list.status == 0);
    CHECK(list.output.find("Mine, all mine") != std::string::npos);
    CHECK(list.output.find("broken.toml:1:") != std::string::npos);
    const Run one = run("drills 'mine, ALL mine'", environment);
    CHECK(one.status == 0);
    CHECK(one.output.find("bend a half step") != std::string::npos);
    CHECK(run("drills 'mine, all mine'").status == 1);  // somebody else's
}

TEST_CASE("landfall drills NAME explains one, and its file can be printed and read again") {
    const Run one = run("drills HALF-up");
    CHECK(one.status == 0);
    CHECK(one.output.find("bend a half step") != std::string::npos);
    const Run file = run("drills half_up --file");
    CHECK(file.status == 0);
    const std::string path = "drills_command_test_half_up.toml";
    std::ofstream(path) << file.output;
    CHECK(run("drills " + path).output == one.output);
    std::remove(path.c_str());
    CHECK(run("drills half-up --json").output.starts_with("{\n  \"name\": \"Half up\""));
    CHECK(run("drills --json").output.starts_with("{\n  \"drills\": ["));
}

TEST_CASE(
    "landfall drills says in one line what is wrong: status 1 for what is not there, 2 for a command line that is not "
    "understood") {
    for (const char* bad :
         {"drills 'hole up'", "drills nowhere.toml", "drills .", "drills ''x", "drills half-up --tuning rubbish",
          "drills half-up --capo 99", "drills half-up --frets 3"}) {
        const Run failed = run(bad);
        CAPTURE(bad);
        CHECK(failed.status == (std::string_view(bad).find("--") == std::string_view::npos ? 1 : 2));
        CHECK(failed.output.starts_with("landfall: "));
        CHECK(failed.output.find('\n') == failed.output.size() - 1);
    }
    CHECK(run("drills --nosuch").status == 2);
    CHECK(run("drills --file").status == 2);
    CHECK(run("drills half-up --capo two").status == 2);
}
