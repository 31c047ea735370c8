#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <cstring>
#include <future>

#include "report/files/files.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/keys.hpp"
#include "report/seal/new_passphrase.hpp"
#include "report/seal/seal.hpp"
#include "tests/report/scratch_folder.hpp"

using namespace tipwright;
using namespace tipwright::seal;

namespace {

// Cheapest that libsodium allows: the cost is no part of what is tested.
constexpr PassphraseCost cheap{1, 8192};

Passphrase phrase(std::string text = "drei Eimer Wasser") {
    return Passphrase(std::move(text));
}

template <std::size_t N>
std::array<unsigned char, N> bytes_of(const char* hex) {
    std::array<unsigned char, N> out{};
    const auto bytes = from_hex(hex);
    REQUIRE((bytes && bytes->size() == N));
    std::memcpy(out.data(), bytes->data(), N);
    return out;
}

}  // namespace

TEST_CASE("seal: Ed25519 gives the test vectors of RFC 8032 section 7.1, from memory") {
    struct Vector {
        const char* name;
        const char* secret;
        const char* public_key;
        const char* message;
        const char* signature;
    };
    const Vector vectors[] = {
        {"TEST 1", "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
         "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
         "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25"
         "bf5f0595b"
         "be24655141438e7a100b"},
        {"TEST 2", "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
         "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
         "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387"
         "b2eaeb430"
         "2aeeb00d291612bb0c00"},
        {"TEST 3", "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
         "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
         "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7"
         "c15e9716e"
         "d28dc027beceea1ec40a"},
        {"TEST SHA(abc)", "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
         "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
         "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454"
         "d4423643c"
         "e80e2a9ac94fa54ca49f",
         "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e0303dc"
         "a179c138a"
         "c17ad9bef1177331a704"},
    };
    for (const Vector& vector : vectors) {
        INFO(vector.name);
        const SigningKey key = SigningKey::from_seed(bytes_of<32>(vector.secret));
        CHECK(key.public_key().bytes == bytes_of<32>(vector.public_key));
        const std::string message = *from_hex(vector.message);
        SignatureBytes signature = bytes_of<64>(vector.signature);
        CHECK(key.sign(message) == signature);
        CHECK(verify(key.public_key(), message, signature));
        CHECK_FALSE(verify(key.public_key(), message + "x", signature));
        signature[40] ^= 1;
        CHECK_FALSE(verify(key.public_key(), message, signature));
    }
}

TEST_CASE("seal: keys are made, locked by a passphrase, and opened with it only") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    const Result<PublicKey> made = make_keys(keys, phrase(), "2031-05-04", cheap);
    REQUIRE(made);
    const Result<SigningKey> key = unlock_key(keys, phrase());
    REQUIRE(key);
    CHECK(key->public_key().bytes == made->bytes);
    CHECK(unlock_key(keys, phrase("drei Eimer wasser")).fault().code == FaultCode::wrong_passphrase);
    CHECK(unlock_key(keys, phrase("")).fault().code == FaultCode::wrong_passphrase);
    CHECK(make_keys(keys, phrase(), "2031-05-04", cheap).fault().code == FaultCode::duplicate);
    CHECK(make_keys(folder / "k2", phrase("short"), "2031-05-04", cheap).fault().code ==
          FaultCode::bad_value);
    CHECK(make_keys(folder / "k2", phrase(), "2031-02-30", cheap).fault().code == FaultCode::bad_value);
    CHECK(unlock_key(folder / "none", phrase()).fault().code == FaultCode::file_missing);

    // No fault tells the passphrase.
    CHECK(unlock_key(keys, phrase("a secret no one sees")).fault().line().find("secret no one") ==
          std::string::npos);
}

TEST_CASE("seal: a secret key that others may read is refused") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    const Result<PublicKey> made = make_keys(keys, phrase(), "2031-05-04", cheap);
    REQUIRE(made);
    const std::string path = keys + "/" + made->id + ".key";
    struct stat found {};
    REQUIRE(::stat(path.c_str(), &found) == 0);
    CHECK((found.st_mode & 07777) == 0600);
    REQUIRE(::stat(keys.c_str(), &found) == 0);
    CHECK((found.st_mode & 07777) == 0700);
    for (const mode_t mode : {0640, 0604, 0620, 0666}) {
        REQUIRE(::chmod(path.c_str(), mode) == 0);
        const Result<SigningKey> key = unlock_key(keys, phrase());
        REQUIRE_FALSE(key);
        CHECK(key.fault().code == FaultCode::not_permitted);
    }
    REQUIRE(::chmod(path.c_str(), 0600) == 0);
    CHECK(unlock_key(keys, phrase()));
}

TEST_CASE("seal: any changed byte of a secret key's file keeps it shut") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    const Result<PublicKey> made = make_keys(keys, phrase(), "2031-05-04", cheap);
    REQUIRE(made);
    const std::string path = keys + "/" + made->id + ".key";
    const std::string good = *read_file(path, 10000);
    std::size_t opened = 0;
    for (std::size_t i = 0; i < good.size(); ++i) {
        std::string bad = good;
        bad[i] = static_cast<char>(bad[i] ^ 1);
        REQUIRE(write_file(path, bad, 0600));
        // The cost in the file may grow by such a change, but never beyond its cap.
        if (unlock_key(keys, phrase())) ++opened;
    }
    CHECK(opened == 0);
    CHECK(good.size() > 300);
}

TEST_CASE("seal: keys rotate, the new one is vouched for by the old one, and both verify") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    const std::string list = keys + "/public-keys.txt";
    REQUIRE(make_keys(keys, phrase(), "2031-05-04", cheap));
    const SignatureBytes old_signature = unlock_key(keys, phrase())->sign("certificate");
    CHECK(rotate_keys(keys, phrase("not the passphrase"), phrase("new passphrase"), "2032-01-01", cheap)
              .fault()
              .code == FaultCode::wrong_passphrase);
    CHECK(rotate_keys(keys, phrase(), phrase("new passphrase"), "2031-05-03", cheap).fault().code ==
          FaultCode::bad_value);
    REQUIRE(rotate_keys(keys, phrase(), phrase("new passphrase"), "2032-01-01", cheap));
    REQUIRE(rotate_keys(keys, phrase("new passphrase"), phrase("newest passphrase"), "2033-01-01", cheap));
    CHECK(unlock_key(keys, phrase("new passphrase")).fault().code == FaultCode::wrong_passphrase);
    REQUIRE(unlock_key(keys, phrase("newest passphrase")));

    const Result<PublicKeys> known = PublicKeys::read(list);
    REQUIRE(known);
    REQUIRE(known->all().size() == 3);
    CHECK(known->all()[0].retired_on == "2032-01-01");
    CHECK(known->all()[2].retired_on.empty());
    CHECK(known->all()[2].vouched_by == known->all()[1].id);
    CHECK(verify(known->all()[0], "certificate", old_signature));
    CHECK_FALSE(verify(known->all()[1], "certificate", old_signature));

    SECTION("a key of more or less than 64 hex digits is told as such, before anything is made of it") {
        const std::string good = *read_file(list, 100000);
        const std::size_t at = good.find("\nkey ") + 5;
        const std::size_t digits = good.find(' ', at) + 1;
        for (const std::string& other :
             {good.substr(digits, 62), good.substr(digits, 64) + "00", std::string("x")}) {
            INFO(other);
            std::string bad = good;
            bad.replace(digits, 64, other);
            const Result<PublicKeys> read = PublicKeys::parse(bad, "list");
            REQUIRE_FALSE(read);
            CHECK(read.fault().code == FaultCode::damaged);
            CHECK(read.fault().what.find("64 hex digits") != std::string::npos);
        }
    }
    SECTION("any changed byte of the list is told") {
        const std::string good = *read_file(list, 100000);
        std::size_t accepted = 0;
        for (std::size_t i = 0; i < good.size(); ++i) {
            for (const char flip : {'\x01', '\x20'}) {
                std::string bad = good;
                bad[i] = static_cast<char>(bad[i] ^ flip);
                const Result<PublicKeys> read = PublicKeys::parse(bad, "list");
                // The date of the first key is vouched for by nobody: it is the list's root, which whoever
                // checks received from the laboratory.
                if (read && read->all()[0].made_on == known->all()[0].made_on) ++accepted;
            }
        }
        CHECK(accepted == 0);
    }
    SECTION("a key slipped in by another laboratory is told") {
        const test::ScratchFolder other;
        REQUIRE(make_keys(other / "keys", phrase(), "2031-01-01", cheap));
        REQUIRE(rotate_keys(other / "keys", phrase(), phrase(), "2033-02-02", cheap));
        const std::string theirs = *read_file(other / "keys/public-keys.txt", 100000);
        std::string forged = *read_file(list, 100000);
        forged += theirs.substr(theirs.rfind("\nkey") + 1);
        CHECK(PublicKeys::parse(forged, "list").fault().code == FaultCode::damaged);
    }
}

TEST_CASE("seal: the passphrase is changed without changing the key") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    const Result<PublicKey> made = make_keys(keys, phrase(), "2031-05-04", cheap);
    REQUIRE(made);
    CHECK(change_passphrase(keys, phrase("wrong one here"), phrase("another one"), cheap).fault().code ==
          FaultCode::wrong_passphrase);
    CHECK(change_passphrase(keys, phrase(), phrase("tiny"), cheap).fault().code == FaultCode::bad_value);
    for (const ::mode_t mode : {0755U, 0750U, 0711U}) {
        REQUIRE(::chmod(keys.c_str(), mode) == 0);
        CHECK(change_passphrase(keys, phrase(), phrase("another one"), cheap).fault().code ==
              FaultCode::not_permitted);
    }
    REQUIRE(::chmod(keys.c_str(), 0700) == 0);
    REQUIRE(change_passphrase(keys, phrase(), phrase("another one"), cheap));
    CHECK(unlock_key(keys, phrase()).fault().code == FaultCode::wrong_passphrase);
    const Result<SigningKey> key = unlock_key(keys, phrase("another one"));
    REQUIRE(key);
    CHECK(key->public_key().id == made->id);
}

TEST_CASE("seal: lists of public keys that are none are refused with their line") {
    for (const char* text :
         {"", "tipwright public keys 1\n", "tipwright public keys 3\nkey", "key a b made 2031-01-01\n",
          "tipwright public keys 1\nkey a b made 2031-01-01\n",
          "tipwright public keys 1\nkey a b made 2031-01-01"}) {
        const Result<PublicKeys> keys = PublicKeys::parse(text, "list.txt");
        REQUIRE_FALSE(keys);
        CHECK(keys.fault().where.starts_with("list.txt:"));
    }
}

TEST_CASE("seal: a passphrase takes the caller's text with it") {
    std::string text = "a passphrase longer than any small buffer";
    const char* memory = text.data();
    const Passphrase taken(std::move(text));
    CHECK(taken.text() == "a passphrase longer than any small buffer");
    CHECK(memory[0] == '\0');
}

TEST_CASE("seal: what a key sealed outside its time is refused, as is what a revoked key sealed") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    const std::string list = keys + "/public-keys.txt";
    const Result<PublicKey> first = make_keys(keys, phrase(), "2031-05-04", cheap);
    REQUIRE(first);
    const Result<SigningKey> thief = unlock_key(keys, phrase());
    REQUIRE(thief);
    const std::string fingerprint = fingerprint_of("record");
    const auto seal_on = [&](const char* day) {
        return seal_record("B1-2031-00001", fingerprint, day, *thief);
    };
    const auto file_on = [&](const char* day) {
        return seal_file(FileKind::xml, "<x/>", "B1-2031-00001", day, *thief);
    };
    CHECK(revoke_key(keys, first->id, phrase(), "2032-01-01", "stolen").fault().code ==
          FaultCode::not_permitted);
    REQUIRE(rotate_keys(keys, phrase(), phrase("new passphrase"), "2032-01-01", cheap));
    {
        const PublicKeys known = PublicKeys::read(list).value();
        for (const char* day : {"2031-05-04", "2031-12-31", "2032-01-01"}) {
            CHECK(check_seal(seal_on(day), known));
            CHECK(check_file(file_on(day), known, "f"));
        }
        for (const char* day : {"2031-05-03", "2032-01-02", "2035-01-01"}) {
            CHECK(check_seal(seal_on(day), known).fault().code == FaultCode::inconsistent);
            CHECK(check_file(file_on(day), known, "f").fault().code == FaultCode::inconsistent);
        }
        // Without a date nothing tells when.
        CHECK(check_in_use(known.all()[0], "", "f").fault().code == FaultCode::inconsistent);
        CHECK(check_in_use(known.all()[1], "", "f"));
    }
    REQUIRE(revoke_key(keys, first->id, phrase("new passphrase"), "2031-09-01", "laptop stolen").ok());
    const PublicKeys known = PublicKeys::read(list).value();
    CHECK(known.all()[0].revoked_from == "2031-09-01");
    CHECK(check_seal(seal_on("2031-08-31"), known));
    const Outcome late = check_seal(seal_on("2031-09-01"), known);
    REQUIRE_FALSE(late);
    CHECK(late.fault().what.find("laptop stolen") != std::string::npos);
    CHECK(check_file(file_on("2031-12-01"), known, "f").fault().code == FaultCode::inconsistent);
    CHECK(unlock_key(keys, phrase("new passphrase")));

    // Neither end can be changed, nor made up by another key.
    const std::string good = *read_file(list, 10000);
    std::size_t accepted = 0;
    const std::size_t ends = good.find("\nretired ") + 1;
    for (std::size_t i = ends; i < good.size(); ++i) {
        std::string bad = good;
        bad[i] = static_cast<char>(bad[i] ^ 1);
        if (PublicKeys::parse(bad, "list")) ++accepted;
    }
    CHECK(accepted == 0);
    CHECK(good.size() - ends > 300);
}

TEST_CASE("seal: a new passphrase has 8 to 1024 bytes") {
    std::string text;
    // No pattern that is guessed at once: digits of 2^32 k / golden ratio.
    for (std::uint32_t k = 1; text.size() < 1025; ++k)
        text += static_cast<char>('!' + (k * 2654435769u >> 25) % 90);
    const auto taken = [&](std::size_t bytes) {
        return check_new_passphrase(phrase(text.substr(0, bytes)), {}).ok();
    };
    CHECK_FALSE(taken(7));
    CHECK(taken(8));
    CHECK(taken(1024));
    CHECK_FALSE(taken(1025));
    CHECK_FALSE(taken(0));
}

TEST_CASE("seal: a passphrase that is guessed at once is refused") {
    for (const char* text : {"aaaaaaaa", "abababababab", "abcdabcd", "12345678", "87654321", "abcdefghij",
                             "aaaaaaab", "qwertyui", "password1", "Passwort!!", "zaqzaqzaq", "1234567890",
                             "tipwright", "Tipwright2026", "2026-tip-wright", "password tipwright"})
        CHECK(easily_guessed(text));
    // Names of who sets it and of the laboratory, whole or in part, with digits and marks.
    const std::vector<std::string> names{"A. Signatory", "Calibration Laboratory of Gaugewick (invented)",
                                         "Zo\xC3\x8B M\xC3\x9CLLER"};
    for (const char* text :
         {"signatory", "A. Signatory", "asignatory", "Signatory2026", "26signatory!", "gaugewick",
          "Gaugewick Laboratory 1", "tipwright-gaugewick", "zo\xC3\xAB m\xC3\xBCller", "M\xC3\x9CLLER2026"}) {
        INFO(text);
        CHECK(easily_guessed(text, names));
    }
    // Also of names in other letters than those of Western Europe, and where a capital has another length.
    const std::vector<std::string> others{"Hana Šťastná-Žižková (invented)", "Νίκη Παράδειγμα",
                                          "Ирина Образцова", "Jörg Großmaß"};
    for (const char* text : {"ŠŤASTNÁ2026", "žižková!", "Hana Žižková", "ΠΑΡΆΔΕΙΓΜΑ1", "νίκη παράδειγμα",
                             "ОБРАЗЦОВА", "образцоваИрина7", "GROSSMASS 1", "GROẞMAẞ26"}) {
        INFO(text);
        CHECK(easily_guessed(text, others));
    }
    CHECK_FALSE(easily_guessed("Образцова и семь уток", others));
    for (const char* text : {"signatory and seven ducks", "a long passphrase", "drei Eimer Gaugewick Wasser"})
        CHECK_FALSE(easily_guessed(text, names));
    for (const char* text :
         {"drei Eimer Wasser", "a long passphrase", "first passphrase", "new passphrase", "k7!pQ2#x"})
        CHECK_FALSE(easily_guessed(text));
    const test::ScratchFolder folder;
    CHECK(make_keys(folder / "keys", phrase("aaaaaaaa"), "2031-05-04", cheap).fault().code ==
          FaultCode::bad_value);
}

TEST_CASE("seal: of two that change the list of keys at once none is lost") {
    const test::ScratchFolder folder;
    for (int round = 0; round < 8; ++round) {
        const std::string keys = folder / ("keys-" + std::to_string(round));
        REQUIRE(make_keys(keys, phrase(), "2031-05-04", cheap));
        for (const char* day : {"2031-06-01", "2031-07-01", "2031-08-01"})
            REQUIRE(rotate_keys(keys, phrase(), phrase(), day, cheap));
        const auto before = PublicKeys::read(keys + "/public-keys.txt");
        REQUIRE(before);
        std::vector<std::future<bool>> all;
        for (std::size_t i = 0; i < 3; ++i)
            all.push_back(std::async(std::launch::async, [&, i] {
                return revoke_key(keys, before->all()[i].id, phrase(), "2031-09-01", "a laptop was stolen")
                    .ok();
            }));
        for (int i = 0; i < 2; ++i)
            all.push_back(std::async(std::launch::async, [&] {
                return rotate_keys(keys, phrase(), phrase(), "2031-10-01", cheap).ok();
            }));
        for (auto& one : all) CHECK(one.get());
        const auto after = PublicKeys::read(keys + "/public-keys.txt");
        REQUIRE(after);
        CHECK(after->all().size() == before->all().size() + 2);
        for (std::size_t i = 0; i < 3; ++i) CHECK(after->all()[i].revoked_from == "2031-09-01");
    }
}

TEST_CASE("seal: a list of keys that cannot be read is not written over") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    REQUIRE(make_keys(keys, phrase(), "2031-05-04", cheap));
    const std::string list = keys + "/public-keys.txt";
    const std::string broken = *read_file(list, 100000) + std::string(std::size_t{1} << 20, 'x');
    REQUIRE(write_file(list, broken));
    CHECK_FALSE(make_keys(keys, phrase(), "2031-06-01", cheap).ok());
    CHECK(*read_file(list, std::size_t{1} << 22) == broken);
}

TEST_CASE("seal: a folder of keys that others may look into is refused") {
    const test::ScratchFolder folder;
    const std::string keys = folder / "keys";
    REQUIRE(make_keys(keys, phrase(), "2031-05-04", cheap));
    for (const mode_t mode : {0710, 0750, 0755, 0701, 0722}) {
        REQUIRE(::chmod(keys.c_str(), mode) == 0);
        CHECK(unlock_key(keys, phrase()).fault().code == FaultCode::not_permitted);
    }
    REQUIRE(::chmod(keys.c_str(), 0700) == 0);
    CHECK(unlock_key(keys, phrase()));
    const std::string open = folder / "open";
    REQUIRE(make_folder(open, 0755));
    REQUIRE(::chmod(open.c_str(), 0755) == 0);
    CHECK(make_keys(open, phrase(), "2031-05-04", cheap).fault().code == FaultCode::not_permitted);
}
