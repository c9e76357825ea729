-- What one customer still owes, and the orders of the book on which something is owed: found without reading what is paid.
create index work_order_owed_customer on work_order (customer, collected_on, id, owed) where owed > 0;
create index work_order_owed_book on work_order (received_at, id) where owed > 0;
