#include "src/audio/speech_service.h"

#include <doctest/doctest.h>

#include <cstdlib>
#include <fstream>
#include <memory>
#include <string>

#include <fmt/core.h>

#include "tests/support/command.h"
#include "tests/support/program.h"

using namespace landfall;
using namespace landfall::test;

namespace {

// The system's speech service, with a voice that writes down what it is to say.
class WritingService {
public:
    explicit WritingService(const TestFolder& in) : folder(in) {
        std::filesystem::create_directories(folder / "conf/modules");
        std::filesystem::create_directories(folder / "log");
        write("conf/speechd.conf",
              "AddModule \"written\" \"sd_generic\" \"written.conf\"\nDefaultModule written\n"
              "AudioOutputMethod \"alsa\"\nAudioALSADevice \"null\"\n");
        write("conf/modules/written.conf",
              fmt::format("GenericExecuteSynth \"echo \\'$DATA\\' >> {}\"\nGenericCmdDependency \"echo\"\n"
                          "AddVoice \"en\" \"MALE1\" \"en\"\n",
                          (folder / "heard").string()));
        write("asound.conf", "pcm.!default { type null }\nctl.!default { type null }\npcm.null { type null }\n");
        ::setenv("SPEECHD_ADDRESS", fmt::format("unix_socket:{}", (folder / "socket").string()).c_str(), 1);
        start();
    }
    ~WritingService() {
        end();
        ::unsetenv("SPEECHD_ADDRESS");
    }
    void start() {
        std::filesystem::remove(folder / "socket");
        program = std::make_unique<Program>(std::vector<std::string>{
            "/bin/sh", "-c",
            fmt::format(
                "ALSA_CONFIG_PATH={0}/asound.conf exec {1} -s -c unix_socket -S {0}/socket -C {0}/conf -L {0}/log "
                "-P {0}/pid -t 0 > {0}/out 2>&1",
                folder.path.string(), LANDFALL_SPEECH_DISPATCHER)});
        within(20.0, [this] { return std::filesystem::exists(folder / "socket"); });
    }
    void end() {
        program->ask(SIGTERM);
        within(5.0, [this] { return !program->running(); });
        program->kill();
    }
    bool says(const std::string& words) const {
        return within(15.0, [&] { return readText(folder / "heard").find(words) != std::string::npos; });
    }

private:
    void write(const char* file, const std::string& text) const { std::ofstream(folder / file) << text; }
    const TestFolder& folder;
    std::unique_ptr<Program> program;
};

}  // namespace

TEST_CASE("a result is spoken by the system's speech service, and again by one that was started anew") {
    if (std::string(LANDFALL_SPEECH_DISPATCHER).empty()) {
        MESSAGE("SKIPPED: speech-dispatcher is not there");
        return;
    }
    const TestFolder folder;
    WritingService service(folder);
    SpeechService speaker;
    speaker.say("28 under");
    CHECK(service.says("28 under"));
    CHECK(speaker.trouble().empty());
    service.end();
    service.start();
    pauseFor(0.5);
    speaker.say("dead on");
    CHECK(service.says("dead on"));
    CHECK(speaker.trouble().empty());
}

TEST_CASE("without a speech service nobody waits, and one line says so and what to do") {
    // Far from where one is started by itself.
    ::setenv("SPEECHD_ADDRESS", "inet_socket:127.0.0.2:9", 1);
    SpeechService speaker;
    speaker.say("28 under");
    CHECK(within(20.0, [&] { return !speaker.trouble().empty(); }));
    CHECK(speaker.trouble()
          == "No speech service answers: install speech-dispatcher, or let results sound as tones (settings).");
    ::unsetenv("SPEECHD_ADDRESS");
}
