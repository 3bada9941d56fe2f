-- The rows of bookings that count: one a booking, the last word on it.
-- grain: one booking
-- key: booking
-- reads: clean_booking_rows
with
rows_placed as (select * from clean_booking_rows),
kept as (select * exclude (place) from rows_placed where place = 'kept')
select * from kept
