// In which unit lengths are shown, everywhere in the desk.
#pragma once

#include <QComboBox>

#include "tools/desk/session/desk_session.h"

namespace desk {

class UnitSwitch : public QComboBox {
  Q_OBJECT
 public:
  explicit UnitSwitch(DeskSession* session, QWidget* parent = nullptr);
};

}  // namespace desk
