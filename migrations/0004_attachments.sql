-- Photos and papers that are kept with documents. What they say of themselves stands apart from their bytes: a list of
-- photos must not read past megabytes of them. All of it is append-only; a new caption, and taking a photo off or
-- putting it back, are rows of their own, and the newest counts.

CREATE TABLE attachment (
  id INTEGER PRIMARY KEY,
  -- A CHECK can only be widened by writing the table anew, so items are on the list before there are any; the trigger
  -- below is what decides, and is replaced when a kind of document is added.
  document_kind TEXT NOT NULL CHECK (document_kind IN ('ticket', 'manifest', 'bin', 'item')),
  document_id INTEGER NOT NULL,
  content TEXT NOT NULL CHECK (content IN ('photo', 'pdf')),
  file_name TEXT NOT NULL,
  -- Of the photo as it is kept.
  width INTEGER CHECK (width > 0),
  height INTEGER CHECK (height > 0),
  byte_count INTEGER NOT NULL CHECK (byte_count > 0),
  -- Of the file as it was sent, by which the same file is known again.
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
  -- The day where the person is, to be shown; the moment orders.
  kept_on TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  who TEXT NOT NULL,
  CHECK ((content = 'photo') = (width IS NOT NULL)),
  CHECK ((width IS NULL) = (height IS NULL)),
  UNIQUE (document_kind, document_id, sha256)
) STRICT;

CREATE TRIGGER attachment_of_a_document BEFORE INSERT ON attachment
WHEN NOT CASE NEW.document_kind
  WHEN 'ticket' THEN EXISTS (SELECT 1 FROM ticket WHERE id = NEW.document_id)
  WHEN 'manifest' THEN EXISTS (SELECT 1 FROM manifest WHERE id = NEW.document_id)
  WHEN 'bin' THEN EXISTS (SELECT 1 FROM bin WHERE id = NEW.document_id)
  ELSE 0 END
BEGIN SELECT RAISE(ABORT, 'a photo is kept with a document that is there'); END;

CREATE TRIGGER bin_with_photos_stays BEFORE DELETE ON bin
WHEN EXISTS (SELECT 1 FROM attachment WHERE document_kind = 'bin' AND document_id = OLD.id)
BEGIN SELECT RAISE(ABORT, 'a bin with photos stays'); END;

CREATE TABLE attachment_bytes (
  attachment_id INTEGER PRIMARY KEY REFERENCES attachment (id),
  bytes BLOB NOT NULL
) STRICT;

CREATE TABLE attachment_preview (
  attachment_id INTEGER PRIMARY KEY REFERENCES attachment (id),
  bytes BLOB NOT NULL
) STRICT;

CREATE TABLE attachment_caption (
  id INTEGER PRIMARY KEY,
  attachment_id INTEGER NOT NULL REFERENCES attachment (id),
  caption TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX attachment_caption_by_attachment ON attachment_caption (attachment_id);

-- 0: taken off its document. 1: put back.
CREATE TABLE attachment_mark (
  id INTEGER PRIMARY KEY,
  attachment_id INTEGER NOT NULL REFERENCES attachment (id),
  is_kept INTEGER NOT NULL CHECK (is_kept IN (0, 1)),
  recorded_at TEXT NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX attachment_mark_by_attachment ON attachment_mark (attachment_id);

CREATE TRIGGER attachment_no_update BEFORE UPDATE ON attachment BEGIN SELECT RAISE(ABORT, 'attachments are append-only'); END;
CREATE TRIGGER attachment_no_delete BEFORE DELETE ON attachment BEGIN SELECT RAISE(ABORT, 'attachments are append-only'); END;
CREATE TRIGGER attachment_bytes_no_update BEFORE UPDATE ON attachment_bytes BEGIN SELECT RAISE(ABORT, 'the bytes of attachments never change'); END;
CREATE TRIGGER attachment_bytes_no_delete BEFORE DELETE ON attachment_bytes BEGIN SELECT RAISE(ABORT, 'the bytes of attachments stay'); END;
CREATE TRIGGER attachment_preview_no_update BEFORE UPDATE ON attachment_preview BEGIN SELECT RAISE(ABORT, 'previews never change'); END;
CREATE TRIGGER attachment_preview_no_delete BEFORE DELETE ON attachment_preview BEGIN SELECT RAISE(ABORT, 'previews stay'); END;
CREATE TRIGGER attachment_caption_no_update BEFORE UPDATE ON attachment_caption BEGIN SELECT RAISE(ABORT, 'captions are append-only'); END;
CREATE TRIGGER attachment_caption_no_delete BEFORE DELETE ON attachment_caption BEGIN SELECT RAISE(ABORT, 'captions are append-only'); END;
CREATE TRIGGER attachment_mark_no_update BEFORE UPDATE ON attachment_mark BEGIN SELECT RAISE(ABORT, 'marks are append-only'); END;
CREATE TRIGGER attachment_mark_no_delete BEFORE DELETE ON attachment_mark BEGIN SELECT RAISE(ABORT, 'marks are append-only'); END;
