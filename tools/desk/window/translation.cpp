#include "tools/desk/window/translation.h"

#include <QCoreApplication>
#include <QTranslator>

namespace desk {

QStringList translation_folders() {
  const QString program = QCoreApplication::applicationDirPath();
  return {program + QStringLiteral("/../share/scantling/translations"),
          program + QStringLiteral("/translations")};
}

std::unique_ptr<QTranslator> find_translation(const QLocale& locale, const QStringList& folders) {
  auto found = std::make_unique<QTranslator>();
  for (const QString& folder : folders) {
    if (found->load(locale, QStringLiteral("scantling"), QStringLiteral("_"), folder)) return found;
  }
  return nullptr;
}

}  // namespace desk
