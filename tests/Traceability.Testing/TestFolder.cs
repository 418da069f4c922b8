namespace Traceability.Testing;

/// <summary>Temporary folders that a private PostgreSQL server can be kept in.</summary>
public static class TestFolder
{
    /// <summary>Makes a new temporary folder that other users may pass through: the server runs as another user when the tests run as root.</summary>
    public static string Make(string prefix)
    {
        var path = Directory.CreateTempSubdirectory(prefix).FullName;
        if (!OperatingSystem.IsWindows())
        {
            File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute
                | UnixFileMode.GroupExecute | UnixFileMode.OtherExecute);
        }

        return path;
    }
}
