namespace Traceability.Postgres;

/// <summary>The server's settings and fixed names.</summary>
internal static class ServerSettings
{
    /// <summary>The bootstrap superuser: for the launcher itself and for tests.</summary>
    internal const string Superuser = "postgres";

    /// <summary>The service's role, which owns its database and nothing else.</summary>
    internal const string Role = "traceability";

    /// <summary>The service's database.</summary>
    internal const string Database = "traceability";

    /// <summary>The server's command-line arguments.</summary>
    internal static IEnumerable<string> Arguments(ClusterFolder cluster, string socketFolder, EmbeddedPostgresOptions options)
    {
        var settings = new Dictionary<string, string>(Defaults(options.Durability), StringComparer.Ordinal);
        foreach (var (name, value) in options.Settings)
        {
            settings[name] = value;
        }

        // Last, so that nothing can weaken them: where it listens, and what a commit is worth.
        settings["listen_addresses"] = "";
        settings["port"] = "5432";
        settings["unix_socket_directories"] = "\"" + socketFolder.Replace("\"", "\"\"", StringComparison.Ordinal) + "\"";
        settings["unix_socket_permissions"] = "0700";
        var durable = options.Durability == PostgresDurability.Full ? "on" : "off";
        settings["fsync"] = durable;
        settings["synchronous_commit"] = durable;
        settings["full_page_writes"] = durable;

        return ["-D", cluster.Path, .. settings.SelectMany(s => new[] { "-c", $"{s.Key}={s.Value}" })];
    }

    private static Dictionary<string, string> Defaults(PostgresDurability durability)
    {
        var settings = new Dictionary<string, string>(StringComparer.Ordinal)
        {
            ["shared_buffers"] = "256MB",
            ["max_connections"] = "100",
            ["max_wal_size"] = "2GB",
            ["wal_compression"] = "on",
            ["jit"] = "off",
            ["timezone"] = "UTC",
            ["log_timezone"] = "UTC",
            ["idle_in_transaction_session_timeout"] = "60s",
        };
        if (durability == PostgresDurability.Full)
        {
            // A week of messages, a file a day, so that the log does not grow for ever.
            settings["logging_collector"] = "on";
            settings["log_directory"] = "log";
            settings["log_filename"] = "postgresql-%a.log";
            settings["log_truncate_on_rotation"] = "on";
            settings["log_rotation_age"] = "1d";
            settings["log_rotation_size"] = "0";
        }
        else
        {
            settings["shared_buffers"] = "128MB";
            settings["max_connections"] = "400";
        }

        return settings;
    }
}
