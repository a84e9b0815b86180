// The desk's words in another language, where somebody has translated them.
#pragma once

#include <QLocale>
#include <QStringList>
#include <memory>

class QTranslator;

namespace desk {

/// Where translations lie: beside the program as it is installed, then as it is built.
[[nodiscard]] QStringList translation_folders();

/// The file scantling_<locale>.qm ("scantling_de_AT.qm", "scantling_de.qm") that suits best, from
/// the first folder that has one; null where none has: the words are then English.
[[nodiscard]] std::unique_ptr<QTranslator> find_translation(
    const QLocale& locale, const QStringList& folders = translation_folders());

}  // namespace desk
