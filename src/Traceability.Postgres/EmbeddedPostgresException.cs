namespace Traceability.Postgres;

/// <summary>The private PostgreSQL server can't be used; the message says why and what to do.</summary>
public sealed class EmbeddedPostgresException(string message, Exception? inner = null) : Exception(message, inner);
