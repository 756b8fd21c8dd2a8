CREATE INDEX treatment_start ON treatment (start);
CREATE INDEX use_lot ON item_use (product, lot);
CREATE INDEX use_treatment ON item_use (treatment, category);
CREATE INDEX use_place ON item_use (place, product, at);
CREATE INDEX receipt_lot ON receipt (product, lot);
CREATE INDEX count_place ON stock_count (place, at);
CREATE INDEX count_lot ON count_line (product, lot);
ANALYZE;
